"""Cautions that several topics share: each is worded once, so that no sheet prints two wordings of it.

The condition or the command comes first, then the reason.
"""

HOT = "While the cooling system is hot, do not open it: it is under pressure. Let it cool first."
POISON = (
    "Catch drained coolant, cover it, and keep children and animals away from it: it is poisonous and tastes sweet. "
    "Dispose of it as local law requires."
)
ISOLATE = "Before you open anything: isolate the battery, let the engine cool, release the pressure."
RESISTANCE = (
    "Turn by hand only. If you feel any resistance other than compression, stop: a valve may be touching a piston."
)
LOCKED = (
    "With the timing drive off, never turn the crankshaft or a camshaft by itself unless the timing instructions allow "
    "it."
)
LOOSEN = "Loosen the head bolts cold, in the loosening order, in several passes."
LIFT = "Lift and lower the head with two people or a lifting aid: it is heavy and has sharp edges."
ASBESTOS = "Keep old fibre gaskets wet and do not sand them: they may contain asbestos. Follow local law."
SINGLE_USE = "Scrap single-use bolts once they are loosened."
BLIND = (
    "Clean and dry blind holes: fluid under the bolt can crack the casting. Wear eye protection; keep the air jet "
    "off skin."
)
PITCH = "Check the thread pitch of the new bolt, the old bolt and the hole with a pitch gauge. Never force a thread."
CAM_BORE = "Before a skim, check the straightness of the cam bores too: a skim does not straighten a warped head."
MISSING = "If a reading is missing or unreadable, write that down, never 0. Take the reading before you go on."
TWO_TURNS = (
    "Before you use the starter, turn the engine two full turns by hand. If you feel any resistance other than "
    "compression, stop."
)
WHOLE_PATTERN = (
    "Complete the whole pattern at each stage, in order. Take one bolt through all stages only if the maker says so."
)
SHEAR = (
    "During the final angle, a bolt can shear. Brace yourself, pull the bar towards you, and keep your face out of its "
    "path."
)
MISREAD = "Read the unit twice: N·m read as lbf·ft gives 36 % too much torque."
FAN = "While the engine runs, keep hands, hair and tools clear of fan and belts."

SHARED = (
    HOT,
    POISON,
    ISOLATE,
    RESISTANCE,
    LOCKED,
    LOOSEN,
    LIFT,
    ASBESTOS,
    SINGLE_USE,
    BLIND,
    PITCH,
    CAM_BORE,
    MISSING,
    TWO_TURNS,
    WHOLE_PATTERN,
    SHEAR,
    MISREAD,
    FAN,
)
