"""One row of a review's three answers: whether the gauge can tell."""

from __future__ import annotations

from steadyfilm.review import MEASURABILITY


def gauge_answer(measurability: str) -> tuple[str, str]:
    """The answer and its ground, from the verdict of a gauge study; without a study, that it needs one.

    >>> gauge_answer("This gauge cannot judge 2.0 to 2.2 mil: a single reading takes 126 % of the window.")
    ('this gauge cannot judge 2.0 to 2.2 mil', 'a single reading takes 126 % of the window')
    """
    if measurability == MEASURABILITY:
        return "not judged", "needs a gauge study"
    answer, _, ground = measurability.removesuffix(".").partition(": ")
    return answer[:1].lower() + answer[1:], ground
