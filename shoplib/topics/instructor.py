"""The instructor's guide: the route of twelve lessons, and the bench labs with their sheets.

``python -m tests.notebooks 03`` writes it into notebook 03, and ``shoplib class guide`` prints it.
Times and sayings: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

from shoplib.topics.guided import all_guided

PARTS_OF_A_LESSON = (
    "45 minutes: 10 to guess and argue, 10 for the picture, 15 at the bench or on paper, 10 for the check"
)
EMPTY = ""


@dataclass(frozen=True)
class Meeting:
    """One lesson of the term: what the instructor shows and asks, what learners say, and what to answer."""

    title: str
    show: str
    ask: str
    they_say: str
    answer: str
    lessons: tuple[str, ...] = ()  # guided lessons on the screen


@dataclass(frozen=True)
class Lab:
    """A bench lab on one sheet: rows may be filled in partly, an empty cell is for the learner."""

    letter: str
    title: str
    question: str
    at_hand: tuple[str, ...]
    steps: tuple[str, ...]
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    work_out: tuple[str, ...]  # how to get from the readings to the answer, and how sure it is
    expect: tuple[str, ...]  # for the instructor
    cautions: tuple[str, ...]

    @property
    def needed(self) -> str:
        """What to have at hand, as a sentence."""
        text = "; ".join(self.at_hand)
        return f"{text[0].upper()}{text[1:]}."


TERM = (
    Meeting("Concept test, form A", "form A on paper", "nothing; collect it", "–", "do not talk about it yet"),
    Meeting("What a click means; lab D", "a dry and an oiled bolt", "which one clamps harder?",
            "the same: both clicked", "the wrench feels the friction too", ("same_click",)),
    Meeting("Where the torque goes", "the bar in three parts", "how much stretches the bolt?", "nearly all of it",
            "about one seventh", ("where_the_torque_goes",)),
    Meeting("What 90° does", "a thread and a ruler", "how far does 90° move it?", "it depends on the torque",
            "a quarter of the pitch", ("angle_is_travel",)),
    Meeting("Torque, then angle", "two frictions", "does the angle cure friction?", "yes",
            "it brings the ratio closer to 1", ("torque_then_angle",)),
    Meeting("Yield; lab A", "a bolt in a vice", "another 90°: how much more load?", "as much again",
            "more length, hardly more load", ("another_quarter_turn", "longer_for_good")),
    Meeting("Order", "ten bolts", "what does bolt 1 have at the end?", "what it clicked at",
            "less: the parts got thinner", ("neighbours",)),
    Meeting("Settling", "paint under a head", "does it stay tight?", "yes, it clicked",
            "paint creeps, and the stretch is lost", ("load_settles",)),
    Meeting("Leaf and lines; lab B", "shim plates", "is it flat?", "the leaf that fits is the gap",
            "a leaf is a bracket", ("leaf_is_a_bracket", "flat_lengthwise")),
    Meeting("Skim", "the four effects", "does the gasket cancel the cut?", "yes",
            "two areas, four effects", ("skim_chain",)),
    Meeting("Mixing; lab C", "jug and tank", "what does 50 % premix give?", "50 %", "divide by all the liquid",
            ("premix_over_water",)),
    Meeting("Concept test, form B", "form B on paper", "compare it with form A", "–",
            "repeat the lessons of the ideas that stayed"),
)  # fmt: skip

LABS = (
    Lab(
        "A", "Bolt in a vice",
        "Does the same angle give the same stretch, dry and oiled? Does the same torque?",
        ("M10 bolts of class 10.9, at least 100 mm long, each with a nut", "a steel sleeve and two washers",
         "a micrometer that reads 0.01 mm and is wide enough for the bolt",
         "a torque wrench, a degree disc, oil, degreaser"),
        ("Degrease bolt and nut. For an oiled row, oil the thread and the face of the nut.",
         "Measure the length of the bolt. Put sleeve, washers and nut on, and clamp the head of the bolt in the vice.",
         "Tighten the nut to 10 N·m, so that the parts touch. Set the degree disc to 0°.",
         "Turn further by the angle of the row, or tighten to the torque of the row. Measure the length again.",
         "Loosen, and measure a third time. Take a new bolt if it stayed longer."),
        ("Row", "Guess: stretch, mm", "Length before, mm", "Length tight, mm", "Stretch, mm", "Loosened, mm"),
        tuple((row, *[EMPTY] * 5) for row in ("60°, dry", "90°, dry", "120°, dry", "60°, oiled", "90°, oiled",
                                              "120°, oiled", "30 N·m, dry", "30 N·m, oiled")),
        ("Stretch = length tight − length before.",
         "Clamp load = stretch × stiffness of the bolt: 95.4 kN/mm for the model bolt of notebook 63. Notebook 62 "
         "calculates it for your bolt.",
         "Each length may be out by 0.005 mm, the stretch by 0.007 mm: that is 0.7 kN."),
        ("The angle gives nearly the same stretch, dry or oiled. The torque does not.",
         "If a loosened bolt is longer than before, it was past yield: compare with lesson 6."),
        ("Wear eye protection and stand clear of the axis of the bolt: it can break.",
         "Pull steadily with a firm stance: a wrench that slips throws you."),
    ),
    Lab(
        "B", "Shim plates and straightedge",
        "Which lines find a bow, a twist and a hollow?",
        ("a flat plate", "a steel sheet of 0.5 mm, about 300 × 200 mm, that lies down by its own weight",
         "strips of shim of 0.10 mm", "a straightedge, feeler leaves from 0.03 mm"),
        ("One of you puts shims between plate and sheet, where the others cannot see them.",
         "Lay six lines: two along, two across, two diagonal.",
         "Write down the thickest leaf that fits and the thinnest that does not.",
         "Judge each line against 0.08 mm. Then say which shape it is."),
        ("Line", "Guess: fits, mm", "Leaf that fits, mm", "Leaf that does not, mm", "Pass, fail, undecided"),
        tuple((row, *[EMPTY] * 4) for row in ("1 along", "2 along", "3 across", "4 across", "5 diagonal",
                                              "6 diagonal")),
        ("The gap is at least the leaf that fits, and below the leaf that does not.",
         "Undecided: the limit lies between the two. Use a leaf of exactly the limit.",
         "Only a part of the face is under a line. A dip between the lines is not found."),
        ("Strips under both long edges: hollow across, and flat lengthwise. Under both short edges: hollow along.",
         "Two shims of 0.10 mm under each of two opposite corners: a twist. One diagonal shows about 0.10 mm, on the "
         "other one the straightedge rocks. The lines along and across show next to nothing."),
        ("Wear gloves: plates and leaves have sharp edges.",),
    ),
    Lab(
        "C", "Jug and tank",
        "Water stayed in the system. How strong is the coolant after a fill with premix?",
        ("a tank of 10 L with a mark at 9 L", "a jug that reads 0.05 L", "18 L of premix of 50 %, 3 L of concentrate",
         "a drum for what is used",
         "a refractometer for the glycol that you use"),
        ("Pour the water of the row into the tank.", "Write down your guess before you pour anything else.",
         "Fill to the mark with premix, and stir.", "Measure the strength. Calculate it.",
         "Empty the tank into the drum before the next row. Keep the mixture of row 3.",
         "Last row: bring the mixture of row 3 to 50 %. Drain, and pour in as much concentrate."),
        ("Row", "Water, L", "Premix, L", "Guess, %", "Calculated, %", "Measured, %"),
        (("1", "3.0", "6.0", EMPTY, EMPTY, EMPTY), ("2", "1.5", "7.5", EMPTY, EMPTY, EMPTY),
         ("3", "4.5", "4.5", EMPTY, EMPTY, EMPTY), ("4 drained, L", EMPTY, "–", EMPTY, EMPTY, EMPTY)),
        ("Strength = premix × its strength ÷ all the liquid.",
         "To correct: drain = all the liquid × (50 % − measured) ÷ (100 % − measured).",
         "A jug that reads 0.05 L makes the result uncertain by 0.3 %; the refractometer by about 1 %."),
        ("Rows 1 to 3: 33.3 %, 41.7 %, 25.0 %. Row 4: drain 3.0 L of the mixture and replace it with concentrate.",
         "They say 50 %. Ask: of how many litres?"),
        ("Keep coolant away from cups and mouths: it is poisonous and tastes sweet. Catch every drop.",
         "Wear eye protection and gloves. Wash your hands afterwards."),
    ),
    Lab(
        "D", "Wrench with an adapter on a scale",
        "The wrench clicks. Which torque does the bolt get when an adapter is on it?",
        ("a click wrench that can be set to 40 N·m", "adapters of 50 and 100 mm",
         "a vice with a hexagon bar as the bolt", "a spring scale that reads 2 N, a tape measure"),
        ("Clamp the hexagon bar. Mark the middle of the grip.",
         "Set the wrench to the setting of the row, and fit the adapter of the row.",
         "Measure the arm: from the bar to the mark, along the line of the wrench.",
         "Write down your guess. Pull at the mark with the scale, square to the wrench, until it clicks.",
         "Write down the pull at the click. Three pulls; take the middle one."),
        ("Adapter", "Setting, N·m", "Guess, N·m", "Arm, mm", "Pull, N", "At the bolt, N·m"),
        (("none", "40", *[EMPTY] * 4), ("50 mm in line", "40", *[EMPTY] * 4), ("100 mm in line", "40", *[EMPTY] * 4),
         ("100 mm at 90°", "40", *[EMPTY] * 4), ("100 mm in line", EMPTY, "40", *[EMPTY] * 3)),
        ("Torque at the bolt = pull × arm. 100 N × 0.400 m = 40 N·m.",
         "Corrected setting = torque × wrench ÷ (wrench + adapter). Use it in the last row.",
         "A scale that reads 2 N at 100 N and an arm within 2 mm of 400 mm: the torque is uncertain by 2 %."),
        ("The pull at the click stays the same, and the arm grows: 50 mm on a wrench of 400 mm gives 45 N·m, 100 mm "
         "give 50 N·m. The last row needs a setting of 32 N·m.",
         "At 90° the arm along the wrench stays the same, and so does the torque."),
        ("Pull smoothly, with both feet firm: the wrench gives way at the click.",
         "Keep your head out of the line of the scale: a hook can slip."),
    ),
)  # fmt: skip

CAUTIONS = (
    "Follow the maker's procedure for the engine. Nothing here replaces it.",
    "Wear eye protection in lab A: a bolt can break. Keep your face away from the bar.",
    "Do not use the numbers of lessons and exercises as settings: they are invented.",
)


@dataclass(frozen=True)
class Talk:
    """What learners say about the question of a guided lesson, what to answer, and what they can say at its end."""

    number: int  # of the meeting
    title: str
    question: str
    said: tuple[tuple[str, str], ...]  # what they say, and the answer to it
    goal: str


def talks() -> list[Talk]:
    """One for each guided lesson, in the order of the term; the words are those of the lesson itself."""
    found = []
    for n, meeting in enumerate(TERM, 1):
        for lesson in (all_guided()[name] for name in meeting.lessons):
            wrong = (o for o in lesson.reasons.options if o is not lesson.reasons.right)
            said = tuple((o.words, o.reply) for o in wrong)
            found.append(Talk(n, lesson.title, lesson.question, said, lesson.goal))
    return found


def minutes_of(meeting: Meeting) -> int:
    """How long its guided lessons take on the screen."""
    return sum(all_guided()[name].minutes for name in meeting.lessons)
