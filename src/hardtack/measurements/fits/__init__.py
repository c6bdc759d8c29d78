"""From a file to an answer, one module a question: what `hardtack fit` does, for use from Python."""

from hardtack.measurements.fits.bake import fit_bake
from hardtack.measurements.fits.crispness import fit_crispness
from hardtack.measurements.fits.diffusion import fit_diffusion
from hardtack.measurements.fits.film import fit_film
from hardtack.measurements.fits.firming import fit_firmness
from hardtack.measurements.fits.isotherm import fit_isotherm
from hardtack.measurements.fits.mould import fit_mould_days
from hardtack.measurements.fits.panel import fit_panel
from hardtack.measurements.fits.rancidity import fit_oxidation
from hardtack.measurements.fits.trial import fit_trial

__all__ = [
    "fit_bake",
    "fit_crispness",
    "fit_diffusion",
    "fit_film",
    "fit_firmness",
    "fit_isotherm",
    "fit_mould_days",
    "fit_oxidation",
    "fit_panel",
    "fit_trial",
]
