"""The result of ``verify``: a state for each part of a sheet, codes for the reasons, and the words for both."""

from __future__ import annotations

import enum
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from shoplib.core.plain_text import visible


class Part(enum.StrEnum):
    """The parts that are checked separately, in order of priority."""

    RECORD = "record"
    CHAIN = "chain"
    ATTACHMENTS = "attachments"
    PAGES = "pages"
    SIGNATURE = "signature"


class State(enum.StrEnum):
    """The state of a part."""

    VERIFIED = "verified"
    NOT_VERIFIED = "not_verified"
    NOT_COVERED = "not_covered"


STATES = {State.VERIFIED: "verified", State.NOT_VERIFIED: "NOT verified", State.NOT_COVERED: "not covered"}
NOT_PRESENT = "not present"  # in place of "not covered" for a part that the sheet does not have


class Code(enum.StrEnum):
    """The reason for a part's state."""

    RECALCULATED = "recalculated"
    OTHER_VERSION = "other_version"
    NOT_CANONICAL = "not_canonical"
    CHANGED = "changed"
    UNREADABLE = "unreadable"
    MORE = "more"
    RULES_CHANGED = "rules_changed"
    CALCULATION_CHANGED = "calculation_changed"
    CHECK_UNKNOWN = "check_unknown"
    NOT_RECALCULATED = "not_recalculated"
    TOO_LONG = "too_long"
    HASHES_MATCH = "hashes_match"
    LINE_CHANGED = "line_changed"
    SEAL_CHANGED = "seal_changed"
    NO_HISTORY = "no_history"
    HOLDS = "holds"
    NOT_HELD = "not_held"
    NO_HASH = "no_hash"
    PHOTOGRAPHS = "photographs"
    NOTHING_ELSE = "nothing_else"
    PHOTOGRAPH_MISSING = "photograph_missing"
    PHOTOGRAPH_UNNAMED = "photograph_unnamed"
    PHOTOGRAPH_CHANGED = "photograph_changed"
    FILE_UNKNOWN = "file_unknown"
    SAME_BYTES = "same_bytes"
    SAVED_AGAIN = "saved_again"
    SAME_PAGES = "same_pages"
    OTHER_PAGES = "other_pages"
    PAGES_CHANGED = "pages_changed"
    HASH_CHANGED = "hash_changed"
    HASH_MISSING = "hash_missing"
    HASH_OF_ANOTHER = "hash_of_another"
    PAGE_OF_ANOTHER = "page_of_another"
    VALUE_NOT_ON_PAGES = "value_not_on_pages"
    FOREIGN = "foreign"
    TEXT_ONLY = "text_only"
    NOT_LOOKED_AT = "not_looked_at"
    NO_SIGNATURE = "no_signature"
    NEEDS_EXTRA = "needs_extra"
    SIGNED = "signed"
    SELF_MADE = "self_made"
    SIGNATURE_BROKEN = "signature_broken"
    TIMESTAMP_BROKEN = "timestamp_broken"
    SIGNATURE_UNREADABLE = "signature_unreadable"
    ONLY_SIGNED = "only_signed"


WORDS = {
    Code.RECALCULATED: "every number and outcome follows from what was typed",
    Code.OTHER_VERSION: "made with {made}, checked with {here}: numbers compared with a tolerance of 1e-9",
    Code.NOT_CANONICAL: "the attached record is not in its canonical form",
    Code.CHANGED: "altered: {where}: the sheet says {there}, recalculated {here}",
    Code.UNREADABLE: "the inputs can no longer be recalculated: {why}",
    Code.MORE: "{count} more such findings are not listed",
    Code.RULES_CHANGED: "the rules of judging changed in {version}: {where}: the sheet says {there}, now {here}",
    Code.CALCULATION_CHANGED: "calculation {before} became {now}: {where}: the sheet says {there}, now {here}",
    Code.CHECK_UNKNOWN: "this version makes no check with the label {label}, so it was not compared",
    Code.NOT_RECALCULATED: "{where} can no longer be recalculated by this version: {why}",
    Code.TOO_LONG: "recalculating takes longer than {seconds} s",
    Code.HASHES_MATCH: "{lines} lines, last hash {last}; compare these two with a printed sheet or a trusted copy",
    Code.LINE_CHANGED: "altered: {line} does not match its hash",
    Code.SEAL_CHANGED: "issue {letter} does not match the seal of what was issued",
    Code.NO_HISTORY: "the sheet of a job file has no history",
    Code.HOLDS: "this sheet contains everything up to the line you hold, line {line}",
    Code.NOT_HELD: "this sheet does not contain the line whose hash you hold: lines are missing, or it is another job",
    Code.NO_HASH: "this is not the hash of a line: {typed}; type the 64 characters at the end of a sheet",
    Code.PHOTOGRAPHS: "{count} picture files match their hashes (two sizes of each photograph)",
    Code.NOTHING_ELSE: "the sheet has no photographs, and no other file is attached",
    Code.PHOTOGRAPH_MISSING: "a photograph is missing, {digest}…",
    Code.PHOTOGRAPH_UNNAMED: "an attached photograph belongs to no line, {digest}…",
    Code.PHOTOGRAPH_CHANGED: "altered: {why}, {digest}…",
    Code.FILE_UNKNOWN: "an attachment does not belong to a sheet: {name}",
    Code.SAME_BYTES: "identical to the pages made from the record, byte for byte",
    Code.SAVED_AGAIN: "they show the same as the record; another program saved the file again",
    Code.SAME_PAGES: "their hash matches, and they show the values in the record; made by {made}",
    Code.OTHER_PAGES: "the pages differ from those made from this record",
    Code.PAGES_CHANGED: "the pages do not match their hash",
    Code.HASH_CHANGED: "the attached hash of the pages was altered or removed",
    Code.HASH_MISSING: "the hash of the pages is missing; version {made} attaches one",
    Code.HASH_OF_ANOTHER: "the hash of the pages belongs to another record",
    Code.PAGE_OF_ANOTHER: "page {page} does not show the hash of this record, or is not page {page} of {pages}",
    Code.VALUE_NOT_ON_PAGES: "a value in the record is not on the pages: {where}: {value}",
    Code.FOREIGN: "the pages contain something that is not part of a sheet: {what}",
    Code.TEXT_ONLY: "they show the values in the record, but whether anything was added to them cannot be "
    "found: version {made} attached no hash of the pages",
    Code.NOT_LOOKED_AT: "not checked, because the record cannot be recalculated",
    Code.NO_SIGNATURE: "the sheet has no digital signature",
    Code.NEEDS_EXTRA: "the sheet has a digital signature; checking it needs the extra “sign”: {install}",
    Code.SIGNED: "signed by {name}, {when} ({clock}), unchanged since; who issued the certificate was not checked; its "
    "SHA-256 is {fingerprint}",
    Code.SELF_MADE: "signed by {name}, {when} ({clock}), unchanged since; the certificate is self-made, so the name is "
    "only claimed: compare its SHA-256 with the one that the workshop gave you: {fingerprint}",
    Code.SIGNATURE_BROKEN: "the file was changed after {name} signed it, or the signature is false",
    Code.TIMESTAMP_BROKEN: "the timestamp of the signature of {name} is false",
    Code.SIGNATURE_UNREADABLE: "the digital signature cannot be read: {why}",
    Code.ONLY_SIGNED: "identical to the pages made from the record, byte for byte, followed by a signature only",
}  # fmt: skip

# Codes for parts with nothing to verify.  They never prevent "verified".
NOTHING_THERE = {Code.NO_HISTORY, Code.NO_SIGNATURE}

EXIT_VERIFIED, EXIT_UNREADABLE = 0, 2
EXIT_CODES = {  # by the first part that is NOT verified
    Part.RECORD: 1,
    Part.CHAIN: 3,
    Part.ATTACHMENTS: 4,
    Part.PAGES: 5,
    Part.SIGNATURE: 6,
}
EXIT_NOT_COVERED = 7
EXIT_WORDS = "exit codes:\n" + "\n".join(  # one per line
    (
        "  0  every part that the sheet has is verified; a part that is not present does not change this",
        "  1  the record is NOT verified",
        "  2  the file cannot be read",
        "  3  the chain is NOT verified: a line does not match its hash, or a line asked for with --holds is missing",
        "  4  the attachments (photographs) are NOT verified",
        "  5  the pages are NOT verified",
        "  6  the signature is NOT verified",
        "  7  nothing wrong was found, but a part that the sheet has is not covered (could not be checked)",
    )
)


@dataclass(frozen=True)
class Finding:
    """One finding about a part: a code, and the values for its words."""

    part: Part
    state: State
    code: Code
    about: Mapping[str, str] = field(default_factory=dict)

    @property
    def words(self) -> str:
        """In words, on one line: what a sheet says of itself cannot look like another line of the verdict."""
        return WORDS[self.code].format(**{k: " ".join(visible(v).split()) for k, v in self.about.items()})


@dataclass(frozen=True)
class Verdict:
    """All findings about a sheet."""

    findings: tuple[Finding, ...]

    def of(self, part: Part) -> tuple[Finding, ...]:
        """The findings about one part."""
        return tuple(f for f in self.findings if f.part is part)

    def state(self, part: Part) -> State:
        """The state of one part: its worst finding counts."""
        states = {f.state for f in self.of(part)} or {State.NOT_COVERED}
        return next(s for s in (State.NOT_VERIFIED, State.NOT_COVERED, State.VERIFIED) if s in states)

    @property
    def verified(self) -> bool:
        """True when every existing part was covered and verified."""
        return not self.problems and not any(self._open(p) for p in Part)

    def _open(self, part: Part) -> bool:
        return self.state(part) is State.NOT_COVERED and not any(f.code in NOTHING_THERE for f in self.of(part))

    @property
    def exit_code(self) -> int:
        """The exit code for the command line, one for each kind of failure."""
        bad = [p for p in Part if self.state(p) is State.NOT_VERIFIED]
        if bad:
            return EXIT_CODES[bad[0]]
        return EXIT_VERIFIED if self.verified else EXIT_NOT_COVERED

    @property
    def problems(self) -> tuple[str, ...]:
        """What is wrong, in words."""
        return tuple(f.words for f in self.findings if f.state is State.NOT_VERIFIED)

    @property
    def notes(self) -> tuple[str, ...]:
        """Further findings: which parts are covered, by what, and which are not."""
        rest = (f for f in self.findings if f.state is not State.NOT_VERIFIED)
        return tuple(f"{f.part} {NOT_PRESENT if f.code in NOTHING_THERE else STATES[f.state]}: {f.words}" for f in rest)

    @property
    def headline(self) -> str:
        """The verdict in a few words."""
        if self.problems:
            return f"NOT verified: {', '.join(p for p in Part if self.state(p) is State.NOT_VERIFIED)}"
        if self.verified:
            return "verified"
        return f"nothing wrong was found, but not covered: {', '.join(p for p in Part if self._open(p))}"

    def as_lines(self) -> list[str]:
        """Part by part, each reason on its own line; the verdict comes last."""
        lines = []
        for part in Part:
            state = self.state(part)
            told = sorted(self.of(part), key=lambda f: f.state is not state)  # what decided comes first
            reasons = [f.words for f in told if f.state is state or state is not State.NOT_VERIFIED]
            absent = state is State.NOT_COVERED and not self._open(part)
            said = NOT_PRESENT if absent else STATES[state]
            lines.append(f"{part}: {said}" + (f", {reasons[0]}" if reasons else ""))
            lines += [f"    {r}" for r in reasons[1:]]
        return [*lines, self.headline]


def not_verified(part: Part, code: Code, **about: str) -> Finding:
    """Something is wrong."""
    return Finding(part, State.NOT_VERIFIED, code, about)


def not_covered(part: Part, code: Code, **about: str) -> Finding:
    """Something could not be checked."""
    return Finding(part, State.NOT_COVERED, code, about)


def verified(part: Part, code: Code, **about: str) -> Finding:
    """Something is as it should be."""
    return Finding(part, State.VERIFIED, code, about)


def any_wrong(findings: Iterable[Finding]) -> bool:
    """Whether one of them says that something is wrong."""
    return any(f.state is State.NOT_VERIFIED for f in findings)
