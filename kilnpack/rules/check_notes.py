"""What the checker hands back, and where it collects it."""

from __future__ import annotations

from dataclasses import dataclass, field

from kilnpack.errors import Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class Tight:
    """The narrowest place of its kind: so many mm, on which tier of which stack, between what."""

    mm: float
    place: str
    tier: int
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Audit:
    """What the checker has to say of a load.

    `findings` are hard rules broken; `remarks` are preferences missed. `tightest_gap` is the narrowest gap between two
    bodies and `tightest_headroom` the least height over a body under a shelf, None where there is none.
    """

    findings: tuple[Finding, ...]
    remarks: tuple[str, ...]
    tightest_gap: Tight | None
    tightest_headroom: Tight | None
    pieces: int
    tiers: int


@dataclass(slots=True, kw_only=True)
class Notes:
    """Collects findings and remarks while a load is gone through."""

    name: str
    findings: list[Finding] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    tightest_gap: Tight | None = None
    tightest_headroom: Tight | None = None

    def fault(self, rule: str, where: str, found: str, wanted: str) -> None:
        """Write down a hard rule that is broken, once."""
        row = Finding(file=self.name, row=None, field=f"{rule} {where}".strip(), found=found, wanted=wanted)
        if row not in self.findings:
            self.findings.append(row)

    def remark(self, rule: str, text: str) -> None:
        """Write down a preference that is missed, once."""
        line = f"{rule}: {text}"
        if line not in self.remarks:
            self.remarks.append(line)

    def gap(self, tight: Tight) -> None:
        """Keep the narrower of two gaps."""
        if self.tightest_gap is None or tight.mm < self.tightest_gap.mm:
            self.tightest_gap = tight

    def headroom(self, tight: Tight) -> None:
        """Keep the lower of two headrooms."""
        if self.tightest_headroom is None or tight.mm < self.tightest_headroom.mm:
            self.tightest_headroom = tight
