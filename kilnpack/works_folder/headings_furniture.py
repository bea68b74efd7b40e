"""Headings of the kiln furniture."""

from __future__ import annotations

from kilnpack.works_folder.columns import Column, Kind, Sheet, code, count, measure, name_column

_MASS = measure("mass_kg", "mass of one")
_TOP = measure("top_degc", "hottest temperature it may see")
_COUNT = count("count_pieces", "how many there are")

SHELVES = Sheet(
    name="shelves",
    says=(
        "Types of shelf. The left front corner of the bounding box is 0, 0; a half disc has its straight edge along "
        "the front. A type of which some are bowed or condemned has its further lots in `shelf_lots`."
    ),
    key="code",
    columns=(
        code("code", "code of the type"),
        name_column(),
        Column(heading="form", kind=Kind.CHOICE, needed=True, choices=("rectangle", "disc", "half disc", "polygon"),
               says="outline from above"),
        Column(heading="w_mm", kind=Kind.NUMBER, above=0.0, says="width", else_says="needed for a rectangle"),
        Column(heading="d_mm", kind=Kind.NUMBER, above=0.0, says="depth", else_says="needed for a rectangle"),
        Column(heading="r_mm", kind=Kind.NUMBER, above=0.0, says="radius", else_says="needed for disc and half disc"),
        Column(heading="corners_mm", kind=Kind.POINTS, says="corners of a convex polygon",
               else_says="needed for a polygon"),
        Column(heading="posts_mm", kind=Kind.POINTS, says="post centres, such as 65 65 | 435 65 | 250 335",
               else_says="3 posts, 4 under a rectangle longer than 1.5 times its depth, centres 65 mm off the edge; "
               "needed for a polygon"),
        measure("thickness_mm", "thickness"),
        Column(heading="material", kind=Kind.TEXT, needed=True, says="such as cordierite, nitride-bonded silicon "
               "carbide"),
        _MASS,
        _TOP,
        Column(heading="strength_mpa", kind=Kind.NUMBER, above=0.0, says="bending strength when hot",
               else_says="then cold_strength_mpa is needed"),
        Column(heading="cold_strength_mpa", kind=Kind.NUMBER, above=0.0, says="bending strength when cold",
               else_says="not used"),
        Column(heading="count_pieces", kind=Kind.WHOLE, least=0.0, says="how many of the first lot",
               else_says="then `shelf_lots` must list the type"),
        Column(heading="condemned_pieces", kind=Kind.WHOLE, least=0.0, default=0, says="of these, not to be used"),
        Column(heading="bow_mm", kind=Kind.NUMBER, least=0.0, default=0.0, says="measured bow of the first lot"),
        Column(heading="firings", kind=Kind.WHOLE, least=0.0, default=0, says="firings that one of it has seen"),
    ),
)  # fmt: skip

SHELF_LOTS = Sheet(
    name="shelf_lots",
    says="Further lots of a type of shelf, each with its measured bow.",
    columns=(
        code("shelf", "type of shelf", refers="shelves"),
        _COUNT,
        Column(heading="condemned_pieces", kind=Kind.WHOLE, least=0.0, default=0, says="of these, not to be used"),
        Column(heading="bow_mm", kind=Kind.NUMBER, least=0.0, default=0.0, says="measured bow"),
        Column(heading="firings", kind=Kind.WHOLE, least=0.0, default=0, says="firings that one of it has seen"),
    ),
)

POSTS = Sheet(
    name="posts",
    says="Posts by height. Posts used hot shrink: give the measured height where one was taken.",
    key="code",
    columns=(
        code("code", "code of the posts"),
        measure("nominal_mm", "height as bought"),
        Column(heading="height_mm", kind=Kind.NUMBER, above=0.0, says="height as measured", else_says="nominal_mm"),
        Column(heading="spread_mm", kind=Kind.NUMBER, least=0.0, default=0.0, says="tallest less shortest of them"),
        measure("side_mm", "side of the square footprint"),
        Column(heading="material", kind=Kind.TEXT, needed=True, says="material"),
        _MASS,
        _TOP,
        _COUNT,
    ),
)

STUBS = Sheet(
    name="stubs",
    says="Short feet under the bottom shelf.",
    key="code",
    columns=(
        code("code", "code of the stubs"),
        measure("height_mm", "height"),
        measure("side_mm", "side of the square footprint"),
        _MASS,
        _TOP,
        _COUNT,
    ),
)

STILTS = Sheet(
    name="stilts",
    says="Pointed supports under glazed feet.",
    key="code",
    columns=(
        code("code", "code of the stilts"),
        measure("height_mm", "what it adds to the height"),
        measure("contact_r_mm", "radius of the circle its points touch"),
        measure("foot_r_mm", "radius its own feet need on the shelf"),
        count("points", "how many points", least=1),
        _MASS,
        _TOP,
        _COUNT,
    ),
)

SETTERS = Sheet(
    name="setters",
    says="Cranks and profile setters: one piece in each, several on top of each other.",
    key="code",
    columns=(
        code("code", "code of the setters"),
        measure("outer_mm", "outer diameter"),
        measure("inner_mm", "widest diameter of the ware"),
        measure("seat_mm", "height of the ware's foot over the setter's own", least=0.0),
        measure("pitch_mm", "height one setter adds to a stack"),
        count("most_pieces", "most on top of each other", least=1),
        _MASS,
        _TOP,
        _COUNT,
    ),
)

CATCH_DISCS = Sheet(
    name="catch_discs",
    says="Discs under runny glazes.",
    key="code",
    columns=(
        code("code", "code of the discs"),
        measure("outer_mm", "diameter"),
        measure("height_mm", "thickness"),
        _MASS,
        _TOP,
        _COUNT,
    ),
)

SPACERS = Sheet(
    name="spacers",
    says="Spacers between piled plates in biscuit.",
    key="code",
    columns=(
        code("code", "code of the spacers"),
        measure("height_mm", "height"),
        count("pieces_per_gap", "how many at each gap", least=1),
        _MASS,
        _TOP,
        _COUNT,
    ),
)

CONSUMABLES = Sheet(
    name="consumables",
    says="Wads, cones, wash: what the pick list counts.",
    key="code",
    columns=(
        code("code", "code"),
        name_column(),
        Column(heading="per_load_pieces", kind=Kind.WHOLE, least=0.0, default=0, says="used for each load"),
        Column(heading="per_tier_pieces", kind=Kind.WHOLE, least=0.0, default=0, says="used for each tier"),
        _COUNT,
    ),
)

FURNITURE = (SHELVES, SHELF_LOTS, POSTS, STUBS, STILTS, SETTERS, CATCH_DISCS, SPACERS, CONSUMABLES)
