"""The numbers of a dough laid open: equation, what went into it, source."""

from __future__ import annotations

from hardtack.dough.rising import litres
from hardtack.keeping.dough_report import DoughSheet
from hardtack.keeping.dough_words import proof_words
from hardtack.sourced import Computed, about
from hardtack.units import degrees, wet_basis

BOOKKEEPING = "bookkeeping over the formula: nothing but sums"


def dough_computed(sheet: DoughSheet) -> tuple[Computed, ...]:
    """Every number the sentences of a dough speak of, with its equation."""
    return tuple(
        each
        for each in (
            _moisture(sheet),
            _activity(sheet),
            _hydration(sheet),
            _loss(sheet),
            _baked_activity(sheet),
            _balance(sheet),
            _acidity(sheet),
            _gas(sheet),
            _proof(sheet),
            _cells(sheet),
            _cost(sheet),
        )
        if each is not None
    )


def _moisture(sheet: DoughSheet) -> Computed:
    return Computed(
        f"water of the {sheet.name}",
        f"{100 * wet_basis(sheet.moisture):.1f} % of the dough",
        "Every ingredient brings its share of water; the sum over the whole, with what yeast and soda do left for later.",
        "w = sum(m_i w_i) / sum(m_i)",
        "m_i mass of an ingredient, w_i its own water as a share of it",
        about(sheet.used, "in the formula", "water in"),
        BOOKKEEPING,
    )


def _activity(sheet: DoughSheet) -> Computed:
    return Computed(
        f"water activity of the {sheet.name}",
        f"{sheet.activity:.3f} ± {sheet.error:.2g} at 25 °C",
        "All parts share the water at one activity: starch, gluten, fibre and other proteins by their own isotherms, "
        "dissolved sugars, polyols and salts by solution laws up to solubility; fat, ash and crystals hold next to nothing. "
        "The activity is that at which the shares add up to the dough's water.",
        "X = sum(w_i X_i(a))",
        "X water per dry solid, w_i share of a part in the dry matter, X_i(a) its own isotherm, a the activity sought",
        about(sheet.used, "in the formula", "water in", "kinds of sugar", "taken as", "activities computed"),
        "the isotherms and solution laws of the shelf (topics polymers, solutes, deliquescence); docs/water.md; the error is the "
        "rms against published pairs",
    )


def _hydration(sheet: DoughSheet) -> Computed | None:
    if sheet.effective_hydration is None:
        return None
    return Computed(
        "effective hydration",
        f"{100 * sheet.effective_hydration:.1f} % on flour",
        "All the water of the dough, whoever brings it, over the flour.",
        "h = sum(m_i w_i) / m_flour",
        "m_i mass of an ingredient, w_i its own water, m_flour all flour, pre-ferments too",
        about(sheet.used, "in the formula", "water in"),
        BOOKKEEPING,
    )


def _loss(sheet: DoughSheet) -> Computed | None:
    baked = sheet.baked
    if baked is None:
        return None
    return Computed(
        "loss in the oven",
        f"{100 * baked.loss:.1f} % of the dough, down to {100 * wet_basis(baked.moisture):.1f} % water",
        "Dry matter stays but for what yeast ate and the leavening gave off; the rest of the loss is water. Moisture and loss "
        "follow from each other.",
        "loss = 1 - m_baked / m_dough, m_baked = m_dry / (1 - w)",
        "m_dry dry matter that stays, w water of the baked piece on wet basis",
        about(sheet.used, "moisture as baked", "bake loss", "in the formula", "water in"),
        BOOKKEEPING,
    )


def _baked_activity(sheet: DoughSheet) -> Computed | None:
    if sheet.baked_activity is None or sheet.baked is None:
        return None
    return Computed(
        "water activity of the baked piece",
        f"{sheet.baked_activity:.2f} ± {sheet.baked_error:.2g} at 25 °C",
        "The dry matter of the dough, less what yeast ate, on the branch it comes to from the oven, read at the moisture as "
        "baked.",
        "X_baked = sum(w_i X_i(a))",
        "as for the dough's activity; X_baked the moisture as baked on dry basis",
        about(
            sheet.used, "moisture as baked", "bake loss", "taken as", "kinds of sugar", "activities computed"
        ),
        "the isotherms and solution laws of the shelf; docs/water.md",
    )


def _balance(sheet: DoughSheet) -> Computed | None:
    if sheet.leavening is None:
        return None
    sums = sheet.leavening.balance
    return Computed(
        "soda against acid",
        f"soda {1e3 * sums.soda:.3g} g, acid for {1e3 * sums.acid:.3g} g, per kg of dough: {sums.leaning}",
        "Each acid neutralises as many parts of soda for a hundred of it as its working neutralising value says; sour "
        "ingredients count by their titratable acid as lactic, mole for mole.",
        "acid = sum(m_acid NV / 100) + sum(m_sour s / M_lactic) M_soda",
        "NV parts of soda that 100 parts of the acid neutralise in the agreed titration, s titratable acid as lactic, M molar mass",
        about(sheet.used, "soda", "tartar", "phosphate", "acid", "powder", "neutralising", "carbonate"),
        "an agreed titration of the trade; the values stand on the shelf (topic leavening acids)",
    )


def _acidity(sheet: DoughSheet) -> Computed | None:
    if sheet.leavening is None or sheet.leavening.pH.value is None:
        return None
    pH = sheet.leavening.pH
    return Computed(
        "pH as baked",
        f"{pH.value:.1f} ± {pH.sd:.1f}",
        f"The charges balance: soda against what the dough's own titration takes up and the carbonate that stays. {pH.why}",
        "soda = alkali(pH) + [HCO3-] + 2 [CO3--]",
        "alkali(pH) read from the titration; carbonate by the partial pressure of carbon dioxide and the two constants of "
        "carbonic acid",
        about(sheet.used, "soda", "titrat", "carbon"),
        "your titration; the constants of carbonic acid from the shelf; docs/dough.md",
    )


def _gas(sheet: DoughSheet) -> Computed | None:
    given = float(sheet.rise.carbon_dioxide[-1])
    if given <= 0:
        return None
    end = degrees(float(sheet.rise.T[-1]))
    return Computed(
        "carbon dioxide of the leaveners",
        f"{litres(given):.2g} L per kg of dough (25 °C, 1 atm), given by {end}",
        "Soda gives one mole for each mole of acid it meets, at the acid's own pace; soda without acid splits by heat, two moles "
        "of soda to one of gas; ammonium bicarbonate gives one mole for each of its own.",
        "n = n_acid(t) + n_heat(t) + n_ammonium(t); V = n R T / P; dn_heat/dt = k(T) n_left, k = A exp(-E / (R T))",
        "n moles given so far, k rate of the split, E its activation energy, R the gas constant, P one atmosphere",
        about(sheet.used, "soda", "acid", "carbonate", "powder", "bench", "climb", "oven", "split"),
        f"stoichiometry; the split of soda by {sheet.rise.law or 'the laws of the shelf'}; docs/dough.md",
    )


def _proof(sheet: DoughSheet) -> Computed | None:
    if sheet.proved is None or sheet.proved.made <= 0:
        return None
    return Computed(
        "gas of yeast at the end of proof",
        f"{proof_words(sheet.proved)} of CO₂ per kg in the cells",
        "Yeast makes gas at its rate at 30 °C, changed by temperature, salt and sugar, as long as there is sugar it can eat; a "
        "share of it stays in the cells, a share is dissolved, the rest is lost.",
        "n = kept * integral of r(T) f(salt) f(sugar) m_yeast dt, ended where the sugar ends",
        "r rate per gram of yeast, f what salt and sugar slow it by, m_yeast mass of yeast, kept the share in the cells",
        about(sheet.used, "yeast", "proof", "fermentation", "fermentable", "gas of the dough"),
        "the shelf's rows on yeast; docs/dough.md",
    )


def _cells(sheet: DoughSheet) -> Computed | None:
    if float(sheet.rise.carbon_dioxide[-1]) <= 0 and sheet.rise.by_yeast <= 0:
        return None
    most = max(
        (1e3 * float(v) for v in sheet.rise.cells if v == v), default=0.0
    )  # NaN once expansion has ended
    return Computed(
        "room the gas could fill",
        f"{most:.2f} L per kg of dough at the most",
        "Dry gas and steam share the cells at the pressure outside; water takes back the carbon dioxide it can dissolve at its "
        "temperature.",
        "V = n R T / (P - a p_sat(T))",
        "n moles of dry gas in the cells (air mixed in and carbon dioxide not dissolved), a activity of the dough, p_sat "
        "saturation pressure",
        about(sheet.used, "air mixed in", "density of the dough", "expansion ends", "bench", "oven", "climb"),
        "the law of ideal gases; saturation by Hyland and Wexler (1983); solubility of carbon dioxide from the shelf",
    )


def _cost(sheet: DoughSheet) -> Computed | None:
    if sheet.batch.cost_dough is None:
        return None
    return Computed(
        "cost of the ingredients",
        f"{sheet.batch.cost_dough:.4g} {sheet.batch.currency} per kg of dough",
        "Each ingredient at its price; what has no price counts as nothing and is named.",
        "c = sum(m_i p_i) / sum(m_i)",
        "m_i mass of an ingredient, p_i its price per mass",
        about(sheet.used, "price of"),
        BOOKKEEPING,
    )
