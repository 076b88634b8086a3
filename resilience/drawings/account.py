"""What became of a drawing, so that nothing of it is missed in silence."""

from collections import Counter
from dataclasses import dataclass, field

from resilience.building.text.entries import shown


@dataclass(slots=True)
class Account:
    """What became of a drawing: what each layer gave and lost, what else was left out, and notes.

    Parameters
    ----------
    left_out : Counter
        Things that became no part of the building, by what and why. [-]
    things : Counter
        How many things each layer holds. [-]
    gave, lost : dict of str to Counter
        Parts that came of each layer by kind, and what of it was left out by reason. [-]
    told : dict of str
        What the user should know, each once. [-]
    """

    left_out: Counter[tuple[str, str]] = field(default_factory=Counter)
    things: Counter[str] = field(default_factory=Counter)
    gave: dict[str, Counter[str]] = field(default_factory=dict)
    lost: dict[str, Counter[str]] = field(default_factory=dict)
    told: dict[str, None] = field(default_factory=dict)

    def leave_out(self, what: str, why: str, n: int = 1, source: str = "") -> None:
        """Remember things that did not become part of the building, and the layer they are on."""
        if n:
            self.left_out[shown(what), why] += n
        if n and source:
            self.lost.setdefault(source, Counter())[why] += n

    def give(self, source: str, kind: str) -> None:
        """Remember that a layer gave a part of the building."""
        if source:
            self.gave.setdefault(source, Counter())[kind] += 1

    def gave_words(self, source: str) -> str:
        """What a layer gave, as in ``4 walls, 1 outline``; empty for nothing."""
        found = self.gave.get(source, Counter())
        return ", ".join(f"{n} {kind}{'s' * (n > 1)}" for kind, n in found.items())

    def lost_words(self, source: str) -> str:
        """What of a layer was left out, and why; empty for nothing."""
        found = self.lost.get(source, Counter())
        return "; ".join(f"{n} {why}" for why, n in found.items())

    def to_json(self) -> list[dict[str, object]]:
        """What became of each layer, under stable keys."""
        return [
            {
                "layer": layer,
                "things": n,
                "gave": dict(self.gave.get(layer, {})),
                "lost": dict(self.lost.get(layer, {})),
            }
            for layer, n in sorted(self.things.items())
        ]

    @property
    def elsewhere(self) -> dict[tuple[str, str], int]:
        """What was left out that no layer tells of."""
        told = {why for reasons in self.lost.values() for why in reasons}
        return {key: n for key, n in self.left_out.items() if key[1] not in told}

    def note(self, sentence: str) -> None:
        """Remember what the user should know, once."""
        self.told[sentence] = None

    @property
    def notes(self) -> tuple[str, ...]:
        """All notes, in the order in which they were made."""
        return tuple(self.told)
