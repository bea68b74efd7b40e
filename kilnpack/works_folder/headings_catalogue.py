"""Headings of the catalogue: shapes, stacking, glazes, decorations, products, routes, sets."""

from __future__ import annotations

from kilnpack.works_folder.columns import Column, Kind, Sheet, code, count, measure, name_column

SHRINKAGE_MOST = {"biscuit": 0.10, "glost": 0.25, "decoration": 0.05}
"""Largest linear shrinkage taken for meant, share of the size on entry; own starting values, wide of the trade's."""

_VAPOUR = Column(
    heading="vapour", kind=Kind.TEXT, else_says="none",
    says="class of vapour it gives off, one named in `excluded_vapours` of the settings",
)  # fmt: skip

SHAPES = Sheet(
    name="shapes",
    says=(
        "One row a shape, in its final (sold) size. The geometry stands in `profiles`, in `parts`, or in a drawing "
        "named here."
    ),
    key="code",
    columns=(
        code("code", "code of the shape"),
        name_column(),
        measure("dry_kg", "mass bone dry"),
        measure("biscuit_kg", "mass after biscuit"),
        measure("glazed_kg", "mass glazed, before glost; also taken for the finished piece"),
        Column(
            heading="biscuit_shrinkage_share", kind=Kind.SHARE, needed=True, least=0.0, most=SHRINKAGE_MOST["biscuit"],
            says="linear loss in biscuit as a share of the size on entry to it",
        ),
        Column(
            heading="glost_shrinkage_share", kind=Kind.SHARE, needed=True, least=0.0, most=SHRINKAGE_MOST["glost"],
            says="the same in glost",
        ),
        Column(
            heading="decoration_shrinkage_share", kind=Kind.SHARE, default=0.0, least=0.0,
            most=SHRINKAGE_MOST["decoration"], says="the same in decoration",
        ),
        Column(
            heading="foot_r_mm", kind=Kind.NUMBER, above=0.0, says="outer radius of the foot ring",
            else_says="rows of `parts` whose part is `foot`; else what of the body stands at height 0",
        ),
        Column(heading="wall_mm", kind=Kind.NUMBER, above=0.0, default=4.0, says="wall thickness"),
        Column(heading="flatware", kind=Kind.YES_NO, default=False, says="plate, saucer, dish: wants a flat shelf"),
        Column(
            heading="handle_deg", kind=Kind.NUMBER, says="direction of the handle, 0 = to the right, 90 = to the back",
            least=-360.0, most=360.0, else_says="no handle",
        ),
        Column(heading="lid", kind=Kind.CODE, refers="shapes", says="shape of the lid fired in place",
               else_says="no lid"),
        Column(
            heading="lid_seat_mm", kind=Kind.NUMBER, least=0.0, else_says="needed with a lid",
            says="height of the lid's foot over the pot's foot",
        ),
        Column(heading="drawing", kind=Kind.TEXT, else_says="no drawing",
               says="SVG or DXF file in the folder that draws the shape"),
        Column(
            heading="drawing_shows", kind=Kind.CHOICE, choices=("half section", "outline"),
            else_says="needed with a drawing",
            says="half section: x from the axis, y up; outline: seen from above round the axis",
        ),
        Column(
            heading="drawing_part", kind=Kind.TEXT, else_says="the whole drawing",
            says="id of the path (SVG) or layer (DXF)",
        ),
        Column(heading="mm_per_unit", kind=Kind.NUMBER, above=0.0, else_says="needed with a drawing",
               says="mm for one unit of the drawing"),
        Column(heading="axis_x_units", kind=Kind.NUMBER, default=0.0, says="x of the axis in the drawing"),
        Column(heading="axis_y_units", kind=Kind.NUMBER, default=0.0,
               says="y of the axis in the drawing of an outline"),
        Column(
            heading="drawn_height_mm", kind=Kind.NUMBER, above=0.0, says="height of a drawn outline",
            else_says="needed with a drawn outline",
        ),
    ),
)  # fmt: skip

PROFILES = Sheet(
    name="profiles",
    says=(
        "Turned parts, several rows each from the bottom up: the outer radius at a height. Equal heights make a step. "
        "The profile without a part name is the body, round the axis."
    ),
    columns=(
        code("shape", "shape the point belongs to", refers="shapes"),
        Column(heading="part", kind=Kind.CODE, says="name of the turned part listed in `parts`", else_says="the body"),
        measure("z_mm", "height over the foot", least=0.0),
        measure("r_mm", "outer radius there", least=0.0),
    ),
)

PARTS = Sheet(
    name="parts",
    says=(
        "Handles, spouts, knobs, ovals, rounded squares: what is not turned round the axis. Rows with the same shape, "
        "part and heights make one part, whose outline is the union of its rows. The part `foot` is the outline that "
        "touches the shelf; it has no heights."
    ),
    columns=(
        code("shape", "shape the part belongs to", refers="shapes"),
        code("part", "name of the part, such as handle; `foot` for the outline of the foot"),
        Column(
            heading="kind", kind=Kind.CHOICE, needed=True,
            choices=("disc", "bar", "oval", "rounded rectangle", "polygon", "turned"),
            says="how this row draws; `turned` takes its radii from `profiles`, round the axis at x_mm, y_mm",
        ),
        Column(heading="from_z_mm", kind=Kind.NUMBER, least=0.0, says="height of the lower end",
               else_says="none for `foot` and `turned`, else needed"),
        Column(heading="to_z_mm", kind=Kind.NUMBER, above=0.0, says="height of the upper end",
               else_says="none for `foot` and `turned`, else needed"),
        Column(heading="x_mm", kind=Kind.NUMBER, default=0.0, says="middle; start of the middle line of a bar"),
        Column(heading="y_mm", kind=Kind.NUMBER, default=0.0, says="middle; start of the middle line of a bar"),
        Column(heading="x2_mm", kind=Kind.NUMBER, says="end of the middle line of a bar", else_says="needed for a bar"),
        Column(heading="y2_mm", kind=Kind.NUMBER, says="end of the middle line of a bar", else_says="needed for a bar"),
        Column(heading="r_mm", kind=Kind.NUMBER, above=0.0, else_says="needed for disc and bar",
               says="radius of a disc, half width of a bar"),
        Column(heading="w_mm", kind=Kind.NUMBER, above=0.0, else_says="needed for oval and rounded rectangle",
               says="full width left to right"),
        Column(heading="d_mm", kind=Kind.NUMBER, above=0.0, else_says="needed for oval and rounded rectangle",
               says="full depth front to back"),
        Column(heading="round_mm", kind=Kind.NUMBER, default=0.0, least=0.0,
               says="radius of the corners (rounded rectangle); growth all round (polygon)"),
        Column(heading="turn_deg", kind=Kind.NUMBER, default=0.0,
               says="turn of an oval or rounded rectangle, counter-clockwise"),
        Column(heading="corners_mm", kind=Kind.POINTS, else_says="needed for a polygon",
               says="corners of a convex polygon, such as 0 0 | 40 0 | 20 30"),
    ),
)  # fmt: skip

STACKING = Sheet(
    name="stacking",
    says="How a shape may stand on itself in biscuit, one row a way. A shape without a row is never stacked.",
    columns=(
        code("shape", "shape", refers="shapes"),
        Column(
            heading="way", kind=Kind.CHOICE, needed=True, choices=("nested", "boxed", "piled"),
            says="nested in one another; boxed rim to rim and foot to foot; piled plate on plate",
        ),
        Column(
            heading="step_mm", kind=Kind.NUMBER, least=0.0, else_says="needed for nested and piled",
            says="what each further piece adds to the height, at final size",
        ),
        count("most_pieces", "most pieces in one stack", least=2),
        Column(
            heading="load_limit_factor", kind=Kind.NUMBER, above=0.0, else_says="5 for flatware, 3 for other ware",
            says="weight allowed above the lowest piece in multiples of its own mass",
        ),
        Column(heading="loose_mm", kind=Kind.NUMBER, least=0.0, else_says="nest_loose_mm of the settings",
               says="free play of the inner piece"),
        Column(heading="spacer", kind=Kind.CODE, refers="spacers", says="spacer between piled plates",
               else_says="no spacer"),
        Column(heading="bare_most_pieces", kind=Kind.WHOLE, default=3, least=1, says="most piled without spacers"),
    ),
)  # fmt: skip

GLAZES = Sheet(
    name="glazes",
    says="Glazes.",
    key="code",
    columns=(
        code("code", "code of the glaze"),
        name_column(),
        measure("softening_degc", "temperature at which the fired glaze softens"),
        _VAPOUR,
        Column(heading="runny", kind=Kind.YES_NO, default=False, says="runs: needs a catch disc in glost"),
        Column(heading="low_degc", kind=Kind.NUMBER, says="coldest glost it matures at", else_says="no limit"),
        Column(heading="high_degc", kind=Kind.NUMBER, says="hottest glost it stands", else_says="no limit"),
    ),
)  # fmt: skip

DECORATIONS = Sheet(
    name="decorations",
    says="Colours, decals, lustres, metals: each with the programme of its one firing.",
    key="code",
    columns=(
        code("code", "code of the decoration"),
        name_column(),
        code("programme", "programme it is fired with", refers="programmes"),
        _VAPOUR,
        Column(heading="low_degc", kind=Kind.NUMBER, says="coldest firing it matures at", else_says="no limit"),
        Column(heading="high_degc", kind=Kind.NUMBER, says="hottest firing it stands", else_says="no limit"),
    ),
)


def _scrap(stage: str) -> Column:
    return Column(
        heading=f"scrap_{stage}_share", kind=Kind.SHARE, least=0.0, most=1.0,
        says=f"scrap of the pieces fired in {stage}", else_says=f"scrap_{stage}_share of the settings",
    )  # fmt: skip


def _supports(stage: str) -> Column:
    return Column(
        heading=f"support_{stage}", kind=Kind.CODES, refers="supports", else_says="the bare shelf",
        says=f"stilts, setters or catch discs of which one must be used in {stage}",
    )  # fmt: skip


PRODUCTS = Sheet(
    name="products",
    says="A shape with glaze, decorations, route and price.",
    key="code",
    columns=(
        code("code", "code of the product"),
        name_column(),
        code("shape", "its shape", refers="shapes"),
        Column(heading="glaze", kind=Kind.CODE, refers="glazes", says="its glaze", else_says="unglazed"),
        Column(heading="decorations", kind=Kind.CODES, refers="decorations", says="its decorations",
               else_says="none"),
        Column(
            heading="decoration_order", kind=Kind.CHOICE, choices=("hottest first", "as listed"),
            default="hottest first", says="order of its decoration firings; those of one programme share a firing",
        ),
        code("route", "its route", refers="routes"),
        Column(heading="foot_glost", kind=Kind.CHOICE, choices=("dry", "glazed"), default="dry",
               says="whether the foot is free of glaze in glost"),
        Column(heading="foot_decoration", kind=Kind.CHOICE, choices=("dry", "glazed"), else_says="as in glost",
               says="whether the foot is free of glaze in decoration"),
        _supports("biscuit"),
        _supports("glost"),
        _supports("decoration"),
        Column(heading="flat_shelf", kind=Kind.YES_NO, says="needs a flat shelf in glost",
               else_says="yes for flatware"),
        Column(heading="glost_low_degc", kind=Kind.NUMBER, says="coldest place in glost",
               else_says="as the glaze says"),
        Column(heading="glost_high_degc", kind=Kind.NUMBER, says="hottest place in glost",
               else_says="as the glaze says"),
        _scrap("biscuit"),
        _scrap("glost"),
        _scrap("decoration"),
        Column(heading="second_glost_share", kind=Kind.SHARE, least=0.0, most=1.0,
               says="seconds of the pieces fired in glost", else_says="second_glost_share of the settings"),
        Column(heading="second_decoration_share", kind=Kind.SHARE, least=0.0, most=1.0, default=0.0,
               says="seconds of the pieces fired in decoration"),
        Column(heading="price_money", kind=Kind.NUMBER, least=0.0, default=0.0, says="price of a first"),
        Column(heading="second_price_money", kind=Kind.NUMBER, least=0.0, default=0.0, says="price of a second"),
        Column(heading="matching_k", kind=Kind.NUMBER, above=0.0, else_says="does not matter",
               says="pieces of a set lie within so many kelvin of each other"),
    ),
)  # fmt: skip

ROUTES = Sheet(
    name="routes",
    says=(
        "The firings of a route in order, one row a firing. A route lists biscuit and glost; the decoration firings "
        "follow from the decorations of the product. A route that lists decoration programmes itself is taken as "
        "listed. The columns after rest_after_h are seldom needed: they overrule, for that firing, what follows from "
        "product, glaze, decorations and settings."
    ),
    columns=(
        code("route", "code of the route"),
        code("programme", "programme of the firing; it tells the stage", refers="programmes"),
        Column(
            heading="ready_after_h", kind=Kind.NUMBER, least=0.0, says="drying before the firing",
            else_says="raw_drying_h before biscuit, glaze_drying_h before glost, 0 before decoration",
        ),
        Column(heading="rest_after_h", kind=Kind.NUMBER, least=0.0, says="rest after the firing",
               else_says="rest_after_biscuit_h after biscuit, else 0"),
        Column(heading="decorations", kind=Kind.CODES, refers="decorations", none_mark=True,
               says="decorations fired here", else_says="those of the product that name this programme"),
        Column(heading="foot", kind=Kind.CHOICE, choices=("dry", "glazed"), says="state of the foot",
               else_says="as the product says"),
        Column(heading="supports", kind=Kind.CODES, refers="supports", none_mark=True,
               says="supports of which one must be used", else_says="as the product says"),
        Column(heading="flat_shelf", kind=Kind.YES_NO, says="needs a flat shelf", else_says="as the product says"),
        Column(heading="low_degc", kind=Kind.NUMBER, none_mark=True, says="coldest place",
               else_says="as glaze, decorations and product say"),
        Column(heading="high_degc", kind=Kind.NUMBER, none_mark=True, says="hottest place",
               else_says="as glaze, decorations and product say"),
        Column(heading="vapours", kind=Kind.CODES, none_mark=True, says="classes of vapour",
               else_says="those of the glaze (glost) or of the decorations"),
        Column(heading="scrap_share", kind=Kind.SHARE, least=0.0, most=1.0, says="scrap of the pieces fired",
               else_says="as the product says"),
        Column(heading="second_share", kind=Kind.SHARE, least=0.0, most=1.0, says="seconds of the pieces fired",
               else_says="as the product says"),
    ),
)  # fmt: skip

SETS = Sheet(
    name="sets",
    says="Products sold together, one row a product of the set.",
    columns=(
        code("set", "code of the set"),
        Column(heading="name", kind=Kind.TEXT, says="name for people, on the first row of the set",
               else_says="the code"),
        code("product", "product in the set", refers="products"),
        count("count_pieces", "so many of it in one set", least=1),
        Column(heading="sold_singly", kind=Kind.YES_NO, default=True,
               says="the products are also sold singly; on the first row of the set"),
    ),
)  # fmt: skip

CATALOGUE = (SHAPES, PROFILES, PARTS, STACKING, GLAZES, DECORATIONS, ROUTES, PRODUCTS, SETS)
