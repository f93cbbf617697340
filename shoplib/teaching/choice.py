"""Questions answered by choice: one right option, and wrong options that each name what a learner may believe.

Used for the reason behind a guess, the check at the end of a lesson, and the concept test.
"""

from __future__ import annotations

from dataclasses import dataclass

# what learners believe, as they would say it; the code is stored, the sentence is shown
BELIEFS = {
    "torque_is_tightness": "Torque is tightness.",
    "click_is_enough": "The click means enough clamp load.",
    "oil_slips": "An oiled bolt slips, so it holds less.",
    "oil_no_matter": "Oil does not matter, least of all with an angle.",
    "all_to_stretch": "Most of the torque stretches the bolt.",
    "angle_is_torque": "90° is about so many N·m.",
    "angle_means_yield": "An angle always means yield.",
    "angle_cures_all": "The angle removes the effect of friction completely.",
    "more_turns": "More turns mean more clamp load.",
    "springs_back": "A bolt always springs back completely.",
    "length_no_matter": "The length of a bolt does not matter.",
    "order_no_matter": "The order does not matter if every bolt clicks.",
    "load_stays": "A bolt stays at its load.",
    "leaf_is_gap": "The leaf that fits is the gap.",
    "average": "The average of the readings decides.",
    "lengthwise": "Flat lengthwise means flat.",
    "lines_see_all": "Six good lines prove the whole face.",
    "gasket_cancels": "A thicker gasket cancels a skim of the same thickness.",
    "one_effect": "A skim changes one thing only.",
    "premix_holds": "A fill with 50 % premix gives 50 %.",
    "add_on_top": "The missing concentrate can be added on top.",
}


@dataclass(frozen=True)
class Option:
    """One answer.  ``belief`` is a code of BELIEFS; the right option has none.  ``reply`` says why it is wrong."""

    words: str
    belief: str = ""
    reply: str = ""


@dataclass(frozen=True)
class Item:
    """A question with its options; the first option declared is the right one, ``order`` is how they are shown."""

    text: str
    options: tuple[Option, ...]
    why: str = ""  # shown after the right answer

    def __post_init__(self) -> None:
        beliefs = [o.belief for o in self.options]
        unknown = set(beliefs) - BELIEFS.keys() - {""}
        if unknown or len({o.words for o in self.options}) < len(self.options):
            raise ValueError(f"{self.text[:60]}: unknown beliefs {sorted(unknown)}, or two options alike")

    @property
    def right(self) -> Option:
        """The right answer."""
        return self.options[0]

    @property
    def order(self) -> tuple[Option, ...]:
        """The options as shown: sorted by their words, so that the right one has no fixed place."""
        return tuple(sorted(self.options, key=lambda o: o.words))

    def option(self, n: int) -> Option:
        """The option at place ``n`` as shown; IndexError if there is none."""
        if not 0 <= n < len(self.options):
            raise IndexError(f"there are {len(self.options)} options")
        return self.order[n]

    def is_right(self, n: int) -> bool:
        """Whether the option at place ``n`` as shown is the right one."""
        return self.option(n) is self.right


@dataclass(frozen=True)
class Cases:
    """Versions of one question.  What is right in one is wrong in the next: nothing can be learned by heart."""

    items: tuple[Item, ...]

    def __post_init__(self) -> None:
        if len({i.text for i in self.items}) < max(2, len(self.items)):
            raise ValueError("a case needs at least two versions, each with another text")

    def ask(self, n: int) -> Item:
        """The version of this number; after the last comes the first again."""
        return self.items[n % len(self.items)]
