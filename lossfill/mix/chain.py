"""The chain from mm³ to gram, link by link, each with the sum that it came from."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from lossfill.figures import rounded
from lossfill.mix.quantities import ChainLink


@dataclass(slots=True)
class Chain:
    """Grows link by link while a portion is reckoned; each link starts from the last value."""

    links: list[ChainLink] = field(default_factory=list)

    @property
    def value(self) -> float:
        """What came out last."""
        return self.links[-1].value

    def start(self, what: str, value: float, unit: str) -> Chain:
        """A figure that is given."""
        self.links.append(ChainLink(what, "", value, unit))
        return self

    def times(self, what: str, factor: float, unit: str, *, of: str = "") -> Chain:
        """Multiply; `of` is the factor's own unit."""
        return self._add(what, "×", factor, of, self.value * factor, unit)

    def over(self, what: str, divisor: float, unit: str, *, of: str = "") -> Chain:
        """Divide."""
        return self._add(what, "÷", divisor, of, self.value / divisor, unit)

    def _add(self, what: str, sign: str, by: float, of: str, value: float, unit: str) -> Chain:
        last = self.links[-1]
        sum_ = f"{figure(last.value)} {last.unit} {sign} {figure(by)}{' ' + of if of else ''}"
        self.links.append(ChainLink(what, sum_, value, unit))
        return self

    def result(self, what: str, sum_: str, value: float, unit: str) -> Chain:
        """A link with a sum of its own."""
        self.links.append(ChainLink(what, sum_, value, unit))
        return self


def figure(value: float) -> str:
    """A number with six significant digits and never an exponent."""
    if value == 0:
        return "0"
    decimals = 5 - math.floor(math.log10(abs(value)))
    plain = f"{round(value, decimals):.{max(decimals, 0)}f}"
    return plain.rstrip("0").rstrip(".") if "." in plain else plain


def two_digits(value: float) -> str:
    """A small number as a person reads it: two decimals, and at least two significant digits."""
    return f"{value:.2f}" if value >= 0.095 else rounded(value, 2)
