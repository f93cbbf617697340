"""One whole job at the bench, played with mouse and keys: two cylinders, six bolts, from the fault to the signature.

Every key and every click is counted.  The budget is 900 keystrokes and 250 clicks; ``pytest -s`` prints the count::

    SHOPLIB_SLOW=1 .venv/bin/pytest tests/browser/test_whole_job.py -s
"""

import re

import pytest
from playwright.sync_api import expect

from shoplib.record.job_progress import progress
from shoplib.record.outcomes import CONDITION_WORDS
from shoplib.record.store import Store
from shoplib.topics.assembly import cold_recheck, reassembly_checks, run_up
from tests.browser import desk_actions, server
from tests.browser.test_pages import SIZES, set_out

KEYS, CLICKS = 900, 250  # the budget
PATIENCE = 60_000
PLACES = [("1", "0", "0"), ("2", "90", "0"), ("3", "180", "0"), ("4", "0", "80"), ("5", "90", "80"), ("6", "180", "80")]


class Hands:
    """A technician: whatever is pressed or typed is counted."""

    def __init__(self, page, base, number):
        self.page, self.base, self.number = page, base, number
        self.keys = self.clicks = 0

    def open(self, name):
        """A page, by one click on the contents page."""
        self.clicks += 1
        set_out(self.page, self.base, name)

    def form(self, label):
        """The form with a box of that label, once the record was read."""
        found = self.page.locator(".jupyter-widgets.shop").filter(
            has=self.page.locator(".shop-label", has_text=re.compile(rf"^\s*{re.escape(label)}"))
        )
        found.first.locator(".shop-keep-read").first.wait_for(state="attached", timeout=PATIENCE)
        return found.first

    def click(self, where):
        self.clicks += 1
        where.click(timeout=PATIENCE)

    def press(self, *names):
        for name in names:
            self.keys += 1
            self.page.keyboard.press(name)

    def type(self, text):
        self.keys += len(text)
        self.page.keyboard.insert_text(text)

    def fill(self, form, **boxes):
        """One click into each box, then its text; ``_`` stands for a space in a label."""
        for label, text in boxes.items():
            self.into(form, label.replace("_", " "), text)

    def into(self, form, label, text):
        box = desk_actions.box(form, label)
        self.click(box)
        if box.input_value():  # of the last time
            self.press("Control+A")
        self.type(text)

    def pick(self, form, label, choice):
        """A list: one click opens it, one chooses."""
        self.clicks += 2
        field = form.locator(".shop-field", has_text=re.compile(rf"^\s*{re.escape(label)}")).first
        field.locator("select").first.select_option(label=choice, timeout=PATIENCE)

    def rows(self, form, label, rows):
        """A table, cell by cell with the keyboard; the first letters of a word pick it."""
        table = form.locator(".shop-field", has_text=re.compile(rf"^\s*{re.escape(label)}")).first.locator(".shop-grid")
        for r, row in enumerate(rows):
            for c, text in row.items():
                cell = table.locator(f"[data-r='{r}'][data-c='{c}']")
                self.keys += 1  # Tab or an arrow key
                cell.focus(timeout=PATIENCE)
                if cell.evaluate("e => e.tagName") == "SELECT":
                    self.keys += 2
                    cell.select_option(label=text)
                else:
                    self.type(text)
            expect(table.locator(f"[data-r='{r + 1}'][data-c='0']")).to_be_attached(timeout=PATIENCE)

    def take_all(self, form):
        """All suggestions, by one press; a single one has only its own button."""
        one, every = form.locator("button.shop-offer").locator("visible=true"), form.locator(".shop-offers button")
        one.first.wait_for(timeout=PATIENCE)
        self.click(every if every.is_visible() else one.first)

    def save(self, form, condition=""):
        if condition:
            self.clicks += 2
            form.locator(".shop-keep-condition select").select_option(
                label=CONDITION_WORDS[condition], timeout=PATIENCE
            )
        form.locator(".shop-results[data-state=done]").first.wait_for(timeout=PATIENCE)
        self.click(desk_actions.button(form, "Save to the job").first)
        form.get_by_text(re.compile(r"Saved as line \d")).locator("visible=true").first.wait_for(timeout=PATIENCE)


def start_and_card(hands):
    """The job, and the card: all that the instructions say."""
    hands.open("00-contents.ipynb")
    page = hands.page
    place = page.locator(".shop-joblist")
    new = desk_actions.button(place, "Start a new job")
    start = place.locator(".shop-start")
    expect(new.or_(desk_actions.button(start, "Start the job")).first).to_be_visible(timeout=PATIENCE)
    if not start.is_visible():
        hands.click(new.first)
    hands.fill(start, Job_number=hands.number, Engine="pump engine", Done_by="A. L.")
    hands.click(desk_actions.button(start, "Start the job").first)
    page.locator(".pr-next a").wait_for(timeout=PATIENCE)

    hands.open("01-engine-card.ipynb")
    card = hands.form("Compression ratio, new")
    hands.fill(card, Engine="pump engine", Cylinders_along="1 2")
    hands.rows(card, "Places of the bolts", [dict(enumerate(p)) for p in PLACES])
    for label, text in (
        ("Maker's tightening order", "2 5 1 6 3 4"), ("Source of the maker's tightening order", "p 4"),
        ("Thread of the head bolts", "M10x1.5"), ("Lubricant, as", "oil"), ("Where to put", "thread, head"),
        ("Stages of tightening", "40 Nm; +90 deg"), ("Source of the stages", "p 4"),
        ("Limit of the compression rule", "75 %"), ("Source of the limit of the compression rule", "p 3"),
        ("Capacity of the cooling system", "6 L"), ("Required strength", "50 %"), ("Rating of", "90 kPa"),
        ("Largest pressure drop", "5 kPa"), ("Source of the largest pressure drop", "p 9"), ("Holding time", "15 min"),
        ("Source of the holding time", "p 9"), ("Grade of the oil", "15W-40"), ("Source of the grade of the oil", "p 12"),
        ("The engine's own lock", "pin in flywheel"), ("Locking tools", "pin"), ("Source of the lock rule", "p 22"),
        ("Source for the position", "p 22"),
    ):  # fmt: skip
        hands.into(card, label, text)
    hands.pick(card, "Rule in the source", "lowest ÷ highest")
    hands.save(card)


def prove(hands, before):
    """Compression and pressure hold, before or after the repair."""
    condition = "as_found" if before else "as_left"
    hands.open("11-compression-and-leak-down.ipynb")
    form = hands.form("Compression, cylinder 1")
    hands.into(form, "Compression, cylinder 1", "12.4 bar; 9.1 bar" if before else "12.5 bar; 12.3 bar")
    hands.take_all(form)
    hands.save(form, condition)
    hands.open("12-pressure-hold.ipynb")
    form = hands.form("Pressure at the start")
    for label, text in (("Pressure at the start", "85 kPa"), ("Pressure at the end", "60 kPa" if before else "85 kPa"),
                        ("Holding time", "15 min"), ("Coolant temperature at the start", "18.0 degC"),
                        ("Coolant temperature at the end", "18.0 degC")):  # fmt: skip
        hands.into(form, label, text)
    if before:  # the second time the boxes hold what was typed and taken the first time
        hands.take_all(form)
    hands.save(form, condition)


STRIP = (("battery isolated",), ("engine cold",), ("pressure released",), ("liquid drained", "4.2 L", "coolant"),
         ("timing lock fitted",), ("head bolts loosened",), ("head lifted",), ("gasket kept",))  # fmt: skip


def strip(hands):
    hands.open("21-lock-and-strip.ipynb")
    form = hands.form("The engine's own lock")
    rows = [{0: step, 2: "done", **dict(zip((3, 4), more, strict=False))} for step, *more in STRIP]
    hands.rows(form, "Steps", rows)
    hands.take_all(form)
    hands.save(form)


def checked(hands, label, of, state):
    form = hands.form(label)
    hands.rows(form, of.label, [{0: item, 1: state} for item in of.items])
    return form


def build_up(hands):
    """Parts and reassembly."""
    hands.open("54-parts-and-reassembly.ipynb")
    form = hands.form("Parts")
    hands.rows(
        form, "Parts", [{0: "gasket", 1: "HG-2", 2: "2611", 4: "new"}, {0: "bolts", 1: "HB-6", 2: "2610", 4: "new"}]
    )
    hands.save(form)
    hands.save(checked(hands, "Instructions used", reassembly_checks.LIST, "done"))


def tighten(hands):
    """The plan from the card, then twelve ticks; one goes past the mark, and a new bolt is fitted."""
    hands.open("64-tightening-guide.ipynb")
    page = hands.page
    form = hands.form("Places of the bolts")
    hands.take_all(form)
    hands.save(form)
    guide = page.locator(".shop.tg")
    done = guide.locator("button.tg-done").locator("visible=true")
    guide.locator(".tg-card[data-bolt]").wait_for(timeout=PATIENCE)
    expect(done).to_have_count(1, timeout=PATIENCE)
    for tick in range(1, 16):
        if tick == 9:  # the second bolt of the second stage
            hands.click(guide.get_by_label("Or type your reading"))
            hands.type("100")
            expect(done).to_contain_text("100°?", timeout=PATIENCE)
        hands.click(done)
        if tick == 9:
            hands.click(desk_actions.button(guide, "turned past the mark").first)
            hands.click(desk_actions.button(guide, "new bolt fitted").first)
            page.wait_for_timeout(900)
            hands.click(done)
        page.wait_for_timeout(900)  # as a hand does that goes from bolt to bolt
        if re.search("All 12 done", guide.inner_text()):
            break
    expect(guide).to_contain_text("All 12 done", timeout=PATIENCE)


def fill_and_run(hands):
    hands.open("71-timing.ipynb")
    form = hands.form("Full turns of the crankshaft")
    hands.into(form, "Full turns of the crankshaft", "2")
    hands.pick(form, "Direction", "running direction")
    hands.pick(form, "Resistance felt", "no")
    hands.pick(form, "Marks or lock", "in line")
    hands.click(form.locator(".shop-offer").locator("visible=true").first)
    hands.save(form)
    hands.open("81-fill-and-correct.ipynb")
    form = hands.form("Came out")
    hands.into(form, "Poured in", "4.2 L")
    hands.take_all(form)
    hands.save(form)
    hands.open("83-oil-and-first-run.ipynb")
    form = hands.form("Oil drained")
    hands.into(form, "Oil drained", "3.1 L")
    hands.into(form, "Oil filled", "3.3 L")
    hands.pick(form, "Filter renewed", "yes")
    hands.pick(form, "Drained oil", "dark")
    hands.pick(form, "Level on the dipstick", "between the marks")
    hands.take_all(form)
    hands.save(form)
    hands.save(checked(hands, "Time run", run_up.LIST, "good"))
    hands.save(checked(hands, "Cooled for", cold_recheck.LIST, "good"))


def hand_over(hands):
    """What was not done is skipped with a reason; then the job is closed and signed."""
    hands.open("91-job-and-sheet.ipynb")
    desk = hands.page.locator(".shop-jobdesk")
    hands.click(desk_actions.button(desk, "Progress").first)
    choice = desk.locator(".pr-skip select")
    expect(choice.locator("option").nth(1)).to_be_attached(timeout=PATIENCE)
    expect(choice).to_be_visible(timeout=PATIENCE)
    while choice.locator("option").count() > 1:
        options = [o for o in choice.locator("option").all_inner_texts() if "choose" not in o and "(skipped" not in o]
        if not options:
            break
        hands.clicks += 2
        choice.select_option(label=options[0], timeout=PATIENCE)
        hands.into(desk.locator(".pr-skip"), "Reason", "no")
        hands.click(desk_actions.button(desk, "Skip this step").first)
        expect(choice.locator("option", has_text=f"{options[0]} (skipped")).to_be_attached(timeout=PATIENCE)
    hands.click(desk.get_by_role("button", name="Sign and hand over"))
    hands.into(desk, "Root cause", "gasket burnt")
    hands.click(desk_actions.button(desk, "Close the job").first)
    expect(desk).to_contain_text("Closed: line", timeout=PATIENCE)
    hands.into(desk, "Signs as", "did the work")
    hands.click(desk_actions.button(desk, "Sign").first)
    expect(desk).to_contain_text("Signed by A. L.", timeout=PATIENCE)


@pytest.mark.parametrize("size", ["desk", "tablet", "phone"])
def test_a_whole_job_within_the_budget(tab, pages, pages_folder, size):
    width, height = SIZES[size]
    tab.set_viewport_size({"width": width, "height": height})
    hands = Hands(tab, pages, f"26-{size}")
    start_and_card(hands)
    prove(hands, before=True)
    strip(hands)
    build_up(hands)
    tighten(hands)
    fill_and_run(hands)
    prove(hands, before=False)
    hand_over(hands)
    with Store.open(server.record(pages_folder)) as store:
        job = store.job(hands.number)
    print(f"\nwhole job on a {size}: {hands.keys} keystrokes, {hands.clicks} clicks, {len(job.lines)} lines")
    assert job.closed
    assert progress(job).missing == ()
    assert [x.who for x, fresh in job.signatures if fresh] == ["A. L."]
    assert any(t.line.body.get("because_code") == "new_bolt" for t in job.ticks)
    assert hands.keys <= KEYS
    assert hands.clicks <= CLICKS
