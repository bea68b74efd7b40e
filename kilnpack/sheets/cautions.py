"""What can hurt people round a kiln. Common practice, with the published figures of the shared table.

These lines warn; they never say that something is safe. Local codes and licensed practice come first.
"""

from __future__ import annotations

from kilnpack.shared_tables import table

FIRST = (
    "Local codes, the maker's instructions and a licensed practitioner come before this sheet, "
    "above all for gas, electricity and ventilation."
)
LAST = "This sheet does not say that a kiln, a stack or a gas is safe. Whoever stands in front of it decides."

PRACTICE = (
    (
        "heat",
        "Ware, shelves and car stay hot enough to burn long after they look cold: gloves, face shield, no synthetics.",
    ),
    ("opening", "Open by the thermometer, a little at a time; never lean over or into a hot kiln."),
    ("lifting", "A loaded shelf is heavy and tips when a post is missed: lift with two, feel that every post bears."),
    ("raw ware", "Damp ware bursts. Hold under 100 °C until it is dry all through."),
    (
        "gas",
        "Purge before lighting and before every relight; keep the flame guard working; never light by hand.",
    ),
    ("reduction", "Reduction makes carbon monoxide, which is not smelt: alarm on, extraction on, nobody alone."),
    (
        "dust",
        "Dry shelf wash, fettlings and old wads give off fine silica: wipe wet, wear a fitted mask, never sweep dry.",
    ),
)


def cautions() -> tuple[tuple[str, str], ...]:
    """Return (topic, text) lines, practice first; a published figure follows the practice of its topic."""
    lines = dict(PRACTICE)
    for row in table("cautions"):
        topic, figure = row["topic"], row["figure"]
        lines[topic] = f"{lines[topic]} {figure[0].upper()}{figure[1:]}." if topic in lines else figure
    return tuple(lines.items())
