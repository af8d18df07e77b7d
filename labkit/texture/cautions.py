"""What to know before believing a map's chances, in a maker's words."""

from labkit.texture.gather import Gathered


def cautions(gathered: Gathered) -> tuple[str, ...]:
    """Return a sentence for each thing that what was seen cannot tell."""
    seen, found = gathered.seen, list[str]()
    if not len(seen.notes.cast):
        found.append(
            "No stick has a word yet: readings and comparisons tell which is harder, not which word it is. "
            "The chances rest on a guess; feel a few sticks and write down their words."
        )
    if gathered.days == 1:
        found.append(
            "Everything was poured on one day, so nothing tells how days differ: "
            "the chances allow for a fresh day by judgement."
        )
    if seen.compared.sticks:
        names = ", ".join(f"“{each}”" for each in seen.compared.sticks)
        found.append(f"{names} counts as a kept reference stick, for no row gives its shares.")
    if seen.testers:
        found.append("The chances are for the average of those who felt; each of them may be off it.")
    return tuple(found)
