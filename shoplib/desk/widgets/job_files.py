"""Export and import of a job; a copy of the whole record, and a check of it."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import ipywidgets as W

from shoplib.desk.widgets import download
from shoplib.desk.widgets.components import StatusMessage, button, heading, row, set_typed, text_box, who_box
from shoplib.desk.widgets.entry_actions import Desk
from shoplib.desk.widgets.escape_html import e
from shoplib.record.errors import StoreError
from shoplib.record.job import Job
from shoplib.record.validation import LARGEST_FILE

if TYPE_CHECKING:
    from shoplib.desk.widgets.input_field import Entry
    from shoplib.desk.widgets.sign_off import Sheets
    from shoplib.record.store import Store


class UploadedFile(NamedTuple):
    """A file that was chosen and checked, but not yet imported."""

    name: str
    number: str  # number of the job in it
    exported: bytes | None = None  # a whole job
    job_file: Mapping[str, Any] | None = None  # or the record of a job file, recalculated on import

    def into(self, store: Store, number: str, who: str) -> str:
        """Import it into a record; return its number there."""
        if self.exported is not None:
            return store.import_job(self.exported, number=number or None, who=who).number
        whole = dict(self.job_file or {})
        whole["job"] = {**whole.get("job", {}), **({"number": number} if number else {})}
        return store.start_from(whole, who=who or None)


class Files(W.VBox):
    """Export, import and backup."""

    def __init__(self, desk: Desk, sheets: Sheets | None) -> None:
        self._desk, self._sheets = desk, sheets
        self._found: UploadedFile | None = None
        self.out_said, self.in_said, self.keep_said, self.check_said = (
            StatusMessage(),
            StatusMessage(),
            StatusMessage(),
            StatusMessage(),
        )
        self.json_it = button("The whole job (JSON)", self.export)
        self.csv_it = button("Its tables (CSV)", self.tables)
        self.file = W.FileUpload(accept=".pdf,.json", description="Choose a sheet or a job")
        self.file.observe(lambda _: self.look(), "value")
        self.looked = W.HTML()
        self.boxes: dict[str, Entry] = {
            "number": text_box(
                "number", "New number", required=False, help="only if its own number is already used here"
            ),
            "who": who_box(desk.who),
        }
        self.take_it = button("Import into this record", self.import_file, main=True)
        self.take_part = W.VBox([row(*self.boxes.values(), named="jd-boxes"), row(self.take_it)])
        self.copy_it = button("Back up all jobs", self.copy)
        self.check_it = button("Check the record", self.check)
        self.out_part = W.VBox([
            heading("Export this job"),
            _note("JSON contains everything, with photographs, and can be imported. CSV opens in a spreadsheet."),
            row(self.json_it, self.csv_it), self.out_said,
        ])  # fmt: skip
        super().__init__([
            self.out_part,
            heading("Import a sheet or a job"),
            _note("Choose a sheet (PDF) or an exported job (JSON). It is checked first. Then you can import it."),
            row(self.file), self.looked, self.take_part, self.in_said,
            heading("Back up all jobs"),
            _note(
                "One file holds all jobs and photographs. Store it on another disk. Others can keep working while the "
                "file is made."
            ),
            row(self.copy_it, self.check_it), self.keep_said, self.check_said,
        ])  # fmt: skip
        self.take_part.layout.display = "none"

    def show(self, job: Job | None) -> None:
        """Show the export part only when a job is chosen."""
        self.out_part.layout.display = "none" if job is None else ""

    # -- export
    def export(self) -> None:
        """The whole job, as JSON."""
        job = self._desk.job
        if job is not None:
            raw = self._desk.act(self.out_said, {}, lambda store: store.export(job.number))
            self._hand(self.out_said, raw, download.safe_name("job", job.number, ending="json"), "Save the job")

    def tables(self) -> None:
        """Its tables for a spreadsheet."""
        from shoplib.record.exchange import tables

        job = self._desk.job
        if job is not None:
            raw = download.zipped(tables(job))
            self._hand(
                self.out_said, raw, download.safe_name("job", job.number, "tables", ending="zip"), "Save the tables"
            )

    def copy(self) -> None:
        """A consistent copy of the whole store."""

        def work(store: Store) -> bytes:
            with tempfile.TemporaryDirectory(prefix="shoplib-") as folder:
                target = Path(folder) / "jobs.db"
                store.copy_to(target)
                if target.stat().st_size > download.LARGEST:
                    raise StoreError(
                        f"the record is {target.stat().st_size // 10**6} MB, too large to download here. "
                        f"Close shoplib and copy this file on its own machine: {store.place}"
                    )
                return target.read_bytes()

        self.keep_said.wait("Copying the record …")
        self._hand(self.keep_said, self._desk.act(self.keep_said, {}, work), "shoplib-record.db", "Save the copy")

    def _hand(self, say: StatusMessage, raw: bytes | None, name: str, words: str) -> None:
        if raw is None:
            return
        try:
            say.good("Ready.", f"<div>{download.link(raw, name, words)}</div>")
        except download.TooLarge as error:
            say.bad(str(error))

    def check(self) -> None:
        """Check the whole record, line by line."""
        self.check_said.wait("Checking every line …")
        wrong = self._desk.act(self.check_said, {}, lambda store: store.check())
        if wrong == []:
            self.check_said.good("No damage found. Checked: file, lines, photographs, jobs and drafts.")
        elif wrong:
            self.check_said.bad("\n".join(wrong[:20]) + (f"\nand {len(wrong) - 20} more" if len(wrong) > 20 else ""))

    # -- import
    def look(self) -> None:
        """Check the chosen file; show its content and what was verified."""
        if not self.file.value:
            return
        name, raw = str(self.file.value[0]["name"])[:120], bytes(self.file.value[0]["content"])
        self._found = None
        self.take_part.layout.display = "none"
        self.looked.value = ""
        if len(raw) > LARGEST_FILE:
            self.in_said.bad(f"{name}: {len(raw) // 10**6} MB is too large for a job")
            return
        self.in_said.wait(f"Checking {name} …")
        try:
            self._look_at(raw, name)
        except (StoreError, ValueError) as error:  # ValueError: the file is not a sheet
            self.in_said.bad(f"{name}: {error}")

    def _look_at(self, raw: bytes, name: str) -> None:
        if raw.startswith(b"%PDF"):
            if self._sheets is None:
                self.in_said.bad("Sheets cannot be read here. Open notebook 91 and choose the file there.")
                return
            found = self._sheets.look(raw)
            self._told(
                UploadedFile(name, found.number, found.exported, found.job_file),
                list(found.problems),
                list(found.notes),
            )
            return
        if not raw.removeprefix(b"\xef\xbb\xbf").lstrip().startswith((b"{", b"[")):
            what = "is neither a sheet (PDF) nor an exported job (JSON)" if raw.strip() else "is empty"
            raise ValueError(f"{what}; choose one that was saved under “Sign and hand over” or “Export this job”")
        from shoplib.record.preview import preview_of

        looked = preview_of(raw)
        self._told(UploadedFile(name, looked.number, raw), list(looked.problems), list(looked.notes))

    def _told(self, found: UploadedFile, problems: list[str], notes: list[str]) -> None:
        self.in_said.clear()
        verdict = "✕ NOT verified" if problems else "✓ No fault found"
        items = "".join(f"<li>{e(x)}</li>" for x in (*problems, *notes))
        self.looked.value = (
            f'<div class="jd-state" data-state="{"stop" if problems else "done"}"><b>{verdict}</b>: {e(found.name)}, '
            f"job {e(found.number)}<ul>{items}</ul></div>"
        )
        if not problems:
            self._found = found
            self.take_part.layout.display = ""

    def import_file(self) -> None:
        """Import into this record."""
        found = self._found
        if found is None:
            return
        number, who = (str(self.boxes[n].typed or "").strip() for n in ("number", "who"))
        taken = self._desk.act(self.in_said, self.boxes, lambda store: found.into(store, number, who))
        if taken is not None:
            self.take_part.layout.display = "none"
            self._found = None
            set_typed(self.boxes["number"], "")  # the next file has another number
            self.in_said.good(f"Imported as job {taken}. You can choose it above.")


def _note(said: str) -> Any:
    return W.HTML(f'<p class="jd-note">{said}</p>')
