"""Whether a stretch can be split at all, and into how few sticks."""

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Final

from bendcore.joints.making import Making
from bendcore.joints.straights import Stretch
from bendcore.joints.values import SLACK, Window

_CLOSE: Final = 0.25 * SLACK
"""Rounding that intervals are given, mm: less than SLACK, so that what they find passes as a stick."""

_Place = tuple[int, int, int]
"""A form (the start has the number behind the last), what is left of the offcuts, the bends before it."""


def _united(spans: Iterable[Window]) -> list[Window]:
    united: list[Window] = []
    for low, high in sorted(spans):
        if united and low <= united[-1][1]:
            united[-1] = united[-1][0], max(united[-1][1], high)
        else:
            united.append((low, high))
    return united


class Reach:
    """Which places joints can have at all, stick by stick: unions of intervals, so that nothing is missed.

    What the stretch's sticks come to at least is found here whatever the places tried elsewhere.
    """

    def __init__(self, stretch: Stretch, making: Making) -> None:
        self.stretch, self.making = stretch, making
        self.after = making.remainders()
        self.least = min(making.how.min_piece, stretch.developed)
        self.forms = making.forms
        self.windows = [
            (straight, [stretch.window(form, straight) for form in making.forms])
            for straight in stretch.straights
        ]
        self.ends = [straight.high for straight in stretch.straights]

    def fewest(self) -> list[float] | None:
        """The joints of a split into the fewest sticks; None where there is none."""
        start = len(self.making.forms), len(self.after[0]) - 1, 0
        layers: list[dict[_Place, list[Window]]] = [{start: [(0.0, 0.0)]}]
        seen: dict[_Place, list[Window]] = {}
        while layers[-1]:
            for key, spans in layers[-1].items():
                for span in spans:
                    place = self._last_joint(key, span)
                    if place is not None:
                        return self._back(layers, key, place)
            layer: dict[_Place, list[Window]] = {}
            for key, spans in layers[-1].items():
                for span in spans:
                    for following, reached in self._on(key, span):
                        if not any(
                            low <= reached[0] and reached[1] <= high for low, high in seen.get(following, ())
                        ):
                            seen[following] = _united([*seen.get(following, ()), reached])
                            layer.setdefault(following, []).append(reached)
            layers.append({key: _united(spans) for key, spans in layer.items()})
        return None

    def _sticks(self, key: _Place) -> Iterator[tuple[int, float, float]]:
        """What the stick after a joint can be: what is left of the offcuts then, the next joint's least and
        most distance, mm."""
        form, remainder, _ = key
        gap = self.forms[form].gap if form < len(self.forms) else 0.0
        for way, after in zip(self.making.ways, self.after, strict=True):
            left = after[remainder]
            if left is not None and not way.whole:
                yield left, gap + self.least, gap + way.length

    def _may_stand(self, form: int, following: int | None, *, bent: bool) -> bool:
        forms = (*self.forms, None)
        return self.making.may_stand(forms[form], None if following is None else forms[following], bent=bent)

    def _on(self, key: _Place, span: Window) -> Iterator[tuple[_Place, Window]]:
        """Where the next joint can stand."""
        form, _, number = key
        for left, least, most in self._sticks(key):
            low, high = span[0] + least, span[1] + most
            first = bisect_left(self.ends, low - _CLOSE)
            for straight, windows_of in self.windows[first:]:
                if straight.low > high + _CLOSE:
                    break
                for following, window in enumerate(windows_of):
                    reached = max(low, window[0]), min(high, window[1])
                    if (
                        straight.number >= number
                        and reached[0] <= reached[1] + _CLOSE
                        and self._may_stand(form, following, bent=straight.number > number)
                    ):
                        yield (following, left, straight.number), (reached[0], max(reached))

    def _last_joint(self, key: _Place, span: Window) -> float | None:
        """The farthest place in a span from which one stick reaches the finish."""
        form, _, number = key
        developed, bends = self.stretch.developed, len(self.stretch.bends)
        if not self._may_stand(form, None, bent=bends > number):
            return None
        return max(
            (
                place
                for _, least, most in self._sticks(key)
                if (place := min(span[1], developed - least)) >= max(span[0], developed - most) - _CLOSE
            ),
            default=None,
        )

    def _back(
        self, layers: Sequence[Mapping[_Place, Sequence[Window]]], key: _Place, place: float
    ) -> list[float]:
        """The joints that lead to this one, and itself."""
        joints = [place]
        for layer in layers[-2::-1]:
            key, place = self._before(layer, key, place)
            joints.append(place)
        return joints[-2::-1]

    def _before(
        self, layer: Mapping[_Place, Sequence[Window]], key: _Place, place: float
    ) -> tuple[_Place, float]:
        form, remainder, number = key
        for before, spans in layer.items():
            if before[2] > number or not self._may_stand(before[0], form, bent=number > before[2]):
                continue
            for left, least, most in self._sticks(before):
                for span in spans if left == remainder else ():
                    farthest = min(span[1], place - least)
                    if farthest >= max(span[0], place - most) - _CLOSE:
                        return before, farthest
        raise AssertionError  # each span was reached from one of the layer before
