"""The numbers of a bake laid open: equation, what went into it, source."""

from __future__ import annotations

from hardtack.oven.baking import Baked
from hardtack.oven.handover import at_packing
from hardtack.oven.sheets import Parted
from hardtack.sourced import Computed, Used, about
from hardtack.units import degrees, wet_basis

HEAT_AND_WATER = (
    "In every cell of the piece heat is conducted and carried by vapour, liquid water moves by its moisture and vapour by its "
    "pressure, the faster the nearer that comes to the air's; at the surface air, radiation and contact give heat and the "
    "zone's air takes vapour. Energy and water close to round-off."
)
BALANCES = "d(energy)/dt = -div(-lambda grad T + h_v j_v); d(X)/dt = -div(j_l + j_v) / rho_dry"
SYMBOLS = (
    "T temperature, X moisture on dry basis, lambda conductivity, j_v flow of vapour, j_l flow of liquid water, h_v heat of vapour, "
    "rho_dry dry matter per volume"
)


def bake_computed(baked: Baked) -> tuple[Computed, ...]:
    """Every number the sentences of a bake speak of, with its equation."""
    return (*_water_and_heat(baked), *_structure(baked), *_colour(baked), *_kill(baked))


def _heat_inputs(baked: Baked) -> tuple[Used, ...]:
    return about(
        baked.used, "thickness", "temperature of", "mass of", "zone", "convection", "emissivity", "contact", "specific heat",
        "density", "conductivity", "vapour", "diffusivity", "cooling",
    )  # fmt: skip


def _water_and_heat(baked: Baked) -> tuple[Computed, ...]:
    inputs, source = (
        _heat_inputs(baked),
        "docs/oven.md; coefficients from the shelf (topics of the oven), each with its own source",
    )
    end = at_packing(baked)
    core = degrees(float(baked.core[baked.out]))

    def marched(what: str, value: str) -> Computed:
        return Computed(what, value, HEAT_AND_WATER, BALANCES, SYMBOLS, inputs, source)

    return (
        marched("loss in the oven", f"{100 * baked.loss:.1f} % of the dough"),
        marched("moisture at the oven's exit", f"{100 * wet_basis(baked.exit_moisture):.1f} % (wet basis)"),
        marched("centre at the oven's exit", core),
        marched("moisture when packed", f"{100 * end.mean:.1f} % (wet basis)"),
        marched("warmest place when packed", degrees(end.centre)),
    )


def _structure(baked: Baked) -> tuple[Computed, ...]:
    march, lift = baked.march, baked.lift
    weights = march.dry_mass / march.dry_mass.sum()
    formula = about(baked.used, "in the formula", "water in")
    starch = Computed(
        "starch gelatinised, mean",
        f"{float(baked.gelatinised[baked.out] @ weights):.0%}",
        "Starch gelatinises at a rate that rises with temperature, up to the share its temperature allows; sugar and salt in the "
        "water raise that temperature, and little water widens the way. It never goes back.",
        "d(alpha)/dt = A exp(-E / (R T')) (alpha_end(T') - alpha)",
        "alpha share gelatinised, T' temperature less the rise by solutes, alpha_end from 0 at the onset to 1 at the end",
        formula,
        "the shelf's topic gelatinisation, each row with its source",
    )
    rise = Computed(
        "rise",
        f"{lift.final:.1f} times the dough's volume",
        "Dry gas and steam share the bubbles at the pressure outside; what comes while the walls set or pores open moves them by "
        "the share not yet set nor open, and what the walls cannot hold leaks.",
        "V = n R T / (P - p_w); dV = (1 - setting) (1 - opening) dV_free",
        "n moles of dry gas, p_w vapour pressure in the bubble, setting and opening shares from 0 to 1 by temperature, raised by "
        "sugar, salt and dryness",
        (*formula, *about(baked.used, "air", "gas", "yeast", "soda", "bench")),
        "the shelf's topics setting and lift; docs/oven.md",
    )
    if lift.parted is not None:
        rise = _parted(baked, lift.parted)
    if lift.set_at is None:
        return starch, rise
    set_at = Computed(
        "half of the piece set",
        f"after {lift.set_at / 60:.1f} min",
        "Walls set straight from the temperature where setting begins to that where all expansion ends, both raised by sugar, "
        "salt and dryness; the moment is that at which half of the dry matter has set.",
        "setting = (T' - T_begins) / (T_ends - T_begins), held between 0 and 1",
        "T' temperature less what solutes and dryness raise it by",
        formula,
        "the shelf's topic setting, each row with its source",
    )
    return starch, set_at, rise


def _parted(baked: Baked, parted: Parted) -> Computed:
    return Computed(
        "lift of the sheets",
        f"{parted.height[-1]:.1f} times the dough's height at the exit",
        "Steam that boils off parts the sheets at the pressure that carries those above; it is lost at the rim where fat sheets "
        "are broken and through holes; a sheet moves until it has set and dried.",
        "P' = P + g m_above; dn/dt = q - (u_rim + u_holes) n_s P' / (n R T); u_rim = 2 (r h)^3 dp (1 - w) / (3 mu R^2); "
        "u_holes = c s sqrt(2 dp / rho); h <= 2 gamma / dp",
        "h height of a gap, n moles in it and n_s those of steam, q steam that comes to it, dp weight above per area, w share "
        "of fat sheets that are whole, r height at the rim over the mean, R from middle to rim, s share of holes, gamma tension of melted fat",
        about(baked.used, "fat", "holes", "thickness of the dough", "mass of", "zone"),
        "docs/oven.md; flow between plates and through holes; the shelf's topic lamination, each row with its source",
    )


def _colour(baked: Baked) -> tuple[Computed, ...]:
    inputs = _heat_inputs(baked)
    return (
        Computed(
            "lightness of the upper surface",
            f"L* {float(baked.colour.lightness[-1]):.0f}",
            "Lightness falls at a rate that follows temperature and activity of the surface.",
            "dL/dt = -(k0 + k1/a) exp(-(E0 + E1/a) / T) L",
            "L lightness L*, T and a temperature and activity of the surface; k0, k1, E0, E1 constants of the law",
            inputs,
            "Purlis and Salvadori (2009); the constants stand on the shelf (topic lightness)",
        ),
        Computed(
            "colour difference of the upper surface",
            f"{float(baked.colour.difference[-1]):.0f}",
            "The difference to the dough's colour goes to its end at a rate by the surface's temperature.",
            "d(dE)/dt = A exp(-E / (R T)) (dE_end - dE)",
            "dE colour difference, dE_end the most it comes to, A and E constants of the law",
            inputs,
            "Zanoni et al. (1995), dry crumb at 140 to 250 °C; the constants stand on the shelf",
        ),
    )


def _kill(baked: Baked) -> tuple[Computed, ...]:
    return tuple(
        Computed(
            f"tenfold reductions, {found.row.name}",
            f"{min(found.held, 99.0):.1f} at the coldest place",
            "Each moment counts by the decimal reduction time of its temperature; nothing counts above the hottest that was tested. "
            "A curve in a model validates nothing.",
            "N = integral of dt / D(T), D = D_ref 10^((T_ref - min(T, T_tested)) / z)",
            f"D_ref {found.row['D']:.3g} s at T_ref {degrees(found.row['T'])}, z {found.row['z']:.3g} K",
            _heat_inputs(baked),
            found.row.source.citation,
        )
        for found in baked.lethality
    )
