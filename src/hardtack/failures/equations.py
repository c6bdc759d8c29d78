"""The equation of each failure, in words and in symbols, for whoever asks why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Equation:
    """What is computed: in `words`, in `symbols`, and what each symbol is."""

    words: str
    symbols: str
    where: str


_TEXTURE = Equation(
    "Water runs from high activity to low through every layer, barrier and film. The share of life used is how far the "
    "layer's mean moisture has gone from fresh to its limit; a limit stated as activity is turned to moisture once, at its "
    "own temperature.",
    "share = (X(t) - X(0)) / (X_limit - X(0))",
    "X moisture in kg water per kg dry solid, mean of the layer; with a sigmoid, share = loss of crispness over the loss "
    "allowed, crispness = 1/(1 + exp((a - midpoint)/steepness))",
)

EQUATIONS: Mapping[str, Equation] = MappingProxyType(
    {
        "crispness": _TEXTURE,
        "crust": _TEXTURE,
        "sogginess": _TEXTURE,
        "drying out": _TEXTURE,
        "firming": Equation(
            "The way from fresh to final firmness is gone by Avrami's law, with time reduced by a rate that follows the day's "
            "temperature; the share of life used is that way over the way to the limit. Re-warming through the melting of "
            "starch crystals takes it back.",
            "theta = 1 - exp(-(integral of k(T) dt)^n); share = theta / theta_limit",
            "k rate of firming, n exponent, theta share of the way; theta_limit = (limit - fresh)/(final - fresh) for firmness",
        ),
        "mould": Equation(
            "Each moment uses up life at the rate that the day's conditions on the moistest place would give: by the published "
            "lines, by the growth model, or by a measured day times growth here over growth there.",
            "share = integral of dt / life(a, T); life = 10^(c - m ERH) days, or s (lag + r_seen / radial) / gamma, or day gamma_day / gamma",
            "gamma = CM2(T) CM2(a) CM1(pH) (1 - undissociated acid / MIC) / CO2 factor, from 0 to 1; CM the cardinal functions; s how "
            "much slower on goods than on agar",
        ),
        "fermentation": Equation(
            "The measured day of the filling, times how fast the yeast grows here over how fast it grew there.",
            "share = integral of gamma(a, T) dt / (gamma_day day)",
            "gamma = CM2(T) CM2(a) CM1(pH) (1 - undissociated acid / MIC) / CO2 factor",
        ),
        "sugar": Equation(
            "A crystal draws water above its deliquescence point and a syrup grains below it; a glass keeps below its transition, "
            "and above it time counts, the faster the further above.",
            "share = (a - a_0) / (RH0 - a_0), or integral of 10^(C1 (T - Tg) / (C2 + T - Tg)) dt over the same for the measured day",
            "RH0 deliquescence point, Tg glass transition at the layer's moisture, C1 and C2 of Williams, Landel and Ferry",
        ),
        "checking": Equation(
            "The greatest difference in moisture between centre and rim so far, over the greatest that is called harmless.",
            "share = max over time of (W_centre - W_rim) / W_harmless",
            "W moisture, wet basis",
        ),
        "rancidity": Equation(
            "Fat takes up oxygen at a rate that follows temperature, activity and the oxygen left; the pack's oxygen is balanced: "
            "what was packed and what comes through the film, less what the fat took.",
            "dPV/dt = r Q10^((T - T_r)/10) f(a)/f(a_r) p/(p + p_half) (air + p_half)/air; share = rise of PV / rise allowed",
            "PV peroxide value, r its measured rise in air, p oxygen pressure in the headspace, f slowest at activity 0.2-0.4",
        ),
        "colour": Equation(
            "A measured rate of colour change, added up with a factor per 10 K.",
            "share = integral of r Q10^((T - T_r)/10) dt / limit",
            "r measured rate at T_r",
        ),
        "marker": Equation(
            "A measured rise of a marker of rancidity, added up with a factor per 10 K and, where the activity of the test is "
            "given, by activity as fat oxidises.",
            "share = integral of r Q10^((T - T_r)/10) f(a)/f(a_r) dt / way",
            "r measured rate at T_r and a_r; way = limit - start when straight, ln(limit/start) when exponential; f slowest at "
            "activity 0.2-0.4",
        ),
        "acceptance": Equation(
            "Time over the day on which the panel gave the product up, by a factor per 10 K where one is given.",
            "share = integral of Q10^((T - T_r)/10) dt / day",
            "T_r temperature at which the packs of the panel were kept",
        ),
    }
)
