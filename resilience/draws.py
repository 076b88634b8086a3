"""Luck before mechanics: every draw is a pure function of its key.

The same scalar functions serve the reference engine and a compiled one, so they keep to operations
that both evaluate alike: 64-bit integers, reduced to 64 bits after every product and sum, and the
scalar functions of ``math``.
"""

import math
from hashlib import blake2b

STREAM_VERSION = 2  # raised whenever the same seed gives other numbers

DEFAULT_SEED = 20300101  # shown and stored wherever it is used

MASK = 0xFFFF_FFFF_FFFF_FFFF
GOLDEN = 0x9E37_79B9_7F4A_7C15  # 2^64 / golden ratio, the step of SplitMix64
NEVER, WEIBULL, LOGNORMAL, FIXED = range(4)  # laws, as numbers that a compiled engine knows too
LEVEL_BITS = 12  # a level is one of 4096
DRAWS_PER_CYCLE = 4  # strike, whether weak, early death, time away

LONGEST_MS = 2**53  # beyond any horizon, and still exact as a float
MOST_NA_MS = 2.0**61  # charge that nothing has used up
LEAST_WORN = -600.0  # logarithm of a hazard so small that what is left is as of new


def unsigned(n: int) -> int:
    """Count as 64 bits without a sign; a compiled engine puts its cast in the place of this.

    Parameters
    ----------
    n : int
        From 0. [-]
    """
    return n


def signed(n: int) -> int:
    """Count as 64 bits with a sign; see ``unsigned``.

    Parameters
    ----------
    n : int
        Below 2^63. [-]
    """
    return n


def mix(state: int) -> int:
    """Scatter 64 bits: the output function of SplitMix64.

    Parameters
    ----------
    state : int
        Any number from 0 to 2^64 - 1. [-]
    """
    # MODELS.md, "keyed draws": Steele, Lea and Flood 2014 with the constants of Stafford's mix 13.
    state = ((state ^ (state >> 30)) * 0xBF58_476D_1CE4_E5B9) & MASK
    state = ((state ^ (state >> 27)) * 0x94D0_49BB_1331_11EB) & MASK
    return state ^ (state >> 31)


def element_key(kind: str, id: str, cause: str) -> int:
    """Hash that names one element's luck, whatever list it stands in.

    Parameters
    ----------
    kind, id, cause : str
        What it is, which one, and what of it is drawn. [-]
    """
    text = "\x1f".join((kind, id, cause)).encode()
    return int.from_bytes(blake2b(text, digest_size=8).digest(), "big")


def stream(seed: int, lifetime: int, key: int) -> int:
    """Start of the stream of draws that one element has in one lifetime.

    Parameters
    ----------
    seed : int
        Seed of the study, from 0. [-]
    lifetime : int
        Number of the lifetime (or of the building draw), from 0. [-]
    key : int
        Hash of the element, from ``element_key``. [-]
    """
    state = mix(unsigned(seed) & MASK) + unsigned(lifetime) * GOLDEN + GOLDEN
    return mix(mix(state & MASK) ^ key)


def uniform(start: int, n: int) -> float:
    """Draw n of a stream, uniform on [0, 1).

    The n-th output of SplitMix64 started at ``start``: any draw is had without those before it.

    Parameters
    ----------
    start : int
        Start of the stream. [-]
    n : int
        Number of the draw, from 0. [-]
    """
    return (mix((start + unsigned(n) * GOLDEN + GOLDEN) & MASK) >> 11) * 2.0**-53


def level_place(start: int, hold: int) -> int:
    """Which of the equally likely levels a link has in one of its holds: the top bits of a draw.

    Parameters
    ----------
    start : int
        Start of the link's stream of levels; its draw 0 is the phase. [-]
    hold : int
        Number of the hold, from 0. [-]
    """
    state = (start + unsigned(hold + 1) * GOLDEN + GOLDEN) & MASK
    return signed(mix(state) >> (64 - LEVEL_BITS))


def phase_ms(start: int, holds_ms: int) -> int:
    """How much of the first hold of a link is over at hand-over, below ``holds_ms``.

    Parameters
    ----------
    start : int
        Start of the link's stream of levels. [-]
    holds_ms : int
        How long each level is held. [ms]
    """
    return int(uniform(start, 0) * holds_ms)


def whole_ms(duration_ms: float) -> int:
    """Duration as the engines count it: at least 1 ms, at most ``LONGEST_MS``.

    Parameters
    ----------
    duration_ms : float
        Drawn duration, not negative; may be infinite. [ms]
    """
    if duration_ms >= LONGEST_MS:
        return LONGEST_MS
    return max(1, math.floor(duration_ms + 0.5))


def weibull(u: float, scale: float, shape: float) -> float:
    """Quantile of a Weibull law; exponential at shape 1.

    Parameters
    ----------
    u : float
        Uniform on [0, 1). [-]
    scale : float
        Scale, above 0, in the unit of the result. [unit]
    shape : float
        Slope, above 0. [-]
    """
    # MODELS.md, "Weibull": F(t) = 1 - exp(-(t / scale)^shape), inverted.
    spent = -math.log1p(-u)
    return scale * (spent if shape == 1.0 else spent ** (1.0 / shape))


def lognormal(u: float, median: float, sigma: float) -> float:
    """Quantile of a lognormal law.

    Parameters
    ----------
    u : float
        Uniform on [0, 1). [-]
    median : float
        Median, above 0, in the unit of the result. [unit]
    sigma : float
        Standard deviation of the logarithm, from 0. [-]
    """
    return median * math.exp(sigma * normal(u))


def quantile(shape: int, scale: float, slope: float, u: float) -> float:
    """Quantile of any law, infinite for the one that never ends.

    Parameters
    ----------
    shape : int
        NEVER, WEIBULL, LOGNORMAL or FIXED. [-]
    scale : float
        Weibull scale, lognormal median or the fixed value itself. [unit]
    slope : float
        Weibull slope, or standard deviation of the logarithm. [-]
    u : float
        Uniform on [0, 1). [-]
    """
    if shape == WEIBULL:
        return weibull(u, scale, slope)
    if shape == LOGNORMAL:
        return lognormal(u, scale, slope)
    if shape == FIXED:
        return scale
    return math.inf


def residual(law: tuple[int, float, float], u: float, lived: float) -> float:
    """Quantile of what is left of something that has lasted so long already.

    Parameters
    ----------
    law : tuple of (int, float, float)
        Shape (NEVER, WEIBULL or FIXED), scale and slope of the whole. [-, unit, -]
    u : float
        Uniform on [0, 1). [-]
    lived : float
        What is over of it; 0 where it is new. [unit]
    """
    shape, scale, slope = law
    if lived <= 0.0 or (shape == WEIBULL and slope == 1.0):
        return quantile(shape, scale, slope, u)
    # MODELS.md, "residual life": S(lived + x) / S(lived) = 1 - u, solved for x; in logarithms,
    # because powers of steep laws leave the range of a float.
    worn = slope * math.log(lived / scale) if shape == WEIBULL else -math.inf
    if worn < LEAST_WORN:
        return max(0.0, quantile(shape, scale, slope, u) - lived)
    return lived * math.expm1(math.log1p(-math.log1p(-u) * math.exp(-worn)) / slope)


def at_risk_ms(
    start: int,
    n: int,
    strikes: tuple[int, float, float],
    weak: tuple[float, float],
    lived_ms: float,
) -> int:
    """Time from coming back (or from the beginning) to strike n, counted from 0.

    Parameters
    ----------
    start : int
        Start of the element's stream. [-]
    n : int
        Number of the strike. [-]
    strikes : tuple of (int, float, float)
        Shape, scale and slope of the law. [-, ms, -]
    weak : tuple of (float, float)
        Share of new devices that also carry an early death, and mean time to that, exponential.
        [-, ms]
    lived_ms : float
        Age at the time from which it is counted; 0 where it is new. [ms]
    """
    weak_share, weak_ms = weak
    first = DRAWS_PER_CYCLE * n
    time_ms = whole_ms(residual(strikes, uniform(start, first), lived_ms))
    if lived_ms > 0.0 and weak_share > 0.0:  # of the weak fewer are left
        weak_left = weak_share * math.exp(-lived_ms / weak_ms)
        weak_share = weak_left / (1.0 - weak_share + weak_left)
    if weak_share > 0.0 and uniform(start, first + 1) < weak_share:
        time_ms = min(time_ms, whole_ms(weibull(uniform(start, first + 2), weak_ms, 1.0)))
    return time_ms


def away_ms(start: int, n: int, lasts: tuple[int, float, float]) -> int:
    """Time that absence n lasts, for an element that ends by itself.

    Parameters
    ----------
    start : int
        Start of the element's stream. [-]
    n : int
        Number of the absence. [-]
    lasts : tuple of (int, float, float)
        Shape, scale and slope of the law. [-, ms, -]
    """
    shape, scale, slope = lasts
    return whole_ms(quantile(shape, scale, slope, uniform(start, DRAWS_PER_CYCLE * n + 3)))


def delay_ms(start: int, n: int, share: float, after_ms: int, spread_ms: int) -> int:
    """Time from event n to its effect on one of those it may strike; -1 if it passes that one by.

    Parameters
    ----------
    start : int
        Start of the stream of the one that may be struck. [-]
    n : int
        Number of the event. [-]
    share : float
        Chance of being struck. [-]
    after_ms : int
        Least delay. [ms]
    spread_ms : int
        The delay is even over so much more. [ms]
    """
    first = DRAWS_PER_CYCLE * n
    if share < 1.0 and uniform(start, first + 1) >= share:
        return -1
    if spread_ms > 0:
        return after_ms + int(uniform(start, first + 2) * spread_ms)
    return after_ms


def _rational(x: float, above: tuple[float, ...], below: tuple[float, ...]) -> float:
    """Quotient of two polynomials, highest power first."""
    top = 0.0
    for coefficient in above:
        top = top * x + coefficient
    bottom = 0.0
    for coefficient in below:
        bottom = bottom * x + coefficient
    return top / bottom


def normal(u: float) -> float:
    """Quantile of the standard normal law, to about 1e-16.

    Parameters
    ----------
    u : float
        Uniform on [0, 1); 0 counts as 2^-54. [-]
    """
    # MODELS.md, "normal quantile": Wichura 1988, algorithm AS 241, routine PPND16.
    q = u - 0.5
    if abs(q) <= 0.425:
        return q * _rational(0.180625 - q * q, _CENTRE_ABOVE, _CENTRE_BELOW)
    tail = math.sqrt(-math.log(max(u, 2.0**-54) if q < 0 else 1.0 - u))
    if tail <= 5.0:
        z = _rational(tail - 1.6, _SHOULDER_ABOVE, _SHOULDER_BELOW)
    else:
        z = _rational(tail - 5.0, _TAIL_ABOVE, _TAIL_BELOW)
    return -z if q < 0 else z


_CENTRE_ABOVE = (
    2.5090809287301226727e3,
    3.3430575583588128105e4,
    6.7265770927008700853e4,
    4.5921953931549871457e4,
    1.3731693765509461125e4,
    1.9715909503065514427e3,
    1.3314166789178437745e2,
    3.3871328727963666080e0,
)
_CENTRE_BELOW = (
    5.2264952788528545610e3,
    2.8729085735721942674e4,
    3.9307895800092710610e4,
    2.1213794301586595867e4,
    5.3941960214247511077e3,
    6.8718700749205790830e2,
    4.2313330701600911252e1,
    1.0,
)
_SHOULDER_ABOVE = (
    7.74545014278341407640e-4,
    2.27238449892691845833e-2,
    2.41780725177450611770e-1,
    1.27045825245236838258e0,
    3.64784832476320460504e0,
    5.76949722146069140550e0,
    4.63033784615654529590e0,
    1.42343711074968357734e0,
)
_SHOULDER_BELOW = (
    1.05075007164441684324e-9,
    5.47593808499534494600e-4,
    1.51986665636164571966e-2,
    1.48103976427480074590e-1,
    6.89767334985100004550e-1,
    1.67638483018380384940e0,
    2.05319162663775882187e0,
    1.0,
)
_TAIL_ABOVE = (
    2.01033439929228813265e-7,
    2.71155556874348757815e-5,
    1.24266094738807843860e-3,
    2.65321895265761230930e-2,
    2.96560571828504891230e-1,
    1.78482653991729133580e0,
    5.46378491116411436990e0,
    6.65790464350110377720e0,
)
_TAIL_BELOW = (
    2.04426310338993978564e-15,
    1.42151175831644588870e-7,
    1.84631831751005468180e-5,
    7.86869131145613259100e-4,
    1.48753612908506148525e-2,
    1.36929880922735805310e-1,
    5.99832206555887937690e-1,
    1.0,
)
