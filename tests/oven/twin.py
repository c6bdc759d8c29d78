"""The oven's equations once more in plain numpy, written from the module's words and not from its code.

Everything here is evaluated from scratch at every call: activities by the isotherm itself (no table), property laws
inline, surfaces by root finding. It gives the rates of water and enthalpy of all cells for any general solver.
"""

from __future__ import annotations

import numpy as np
from scipy.optimize import brentq

from hardtack.states import Floats, Isotherm
from hardtack.transport.bake_march import BakeMaterial, EndAir
from hardtack.water.air import latent_heat, saturation_pressure
from hardtack.water.isotherm import activity

P = 101325.0
R = 8.31446261815324
M_W = 0.018015268
LEWIS = 6.8e-4


class Twin:
    """A slab of n cells at fixed size between two ends."""

    def __init__(
        self, iso: Isotherm, material: BakeMaterial, faces: Floats, area: float, dry: Floats, eps: float
    ) -> None:
        self.iso, self.m, self.dry, self.eps, self.area = iso, material, dry, eps, area
        self.half, self.volume = np.diff(faces) / 2, area * np.diff(faces)

    def split(self, u: Floats) -> tuple[Floats, Floats]:
        """Moisture and temperature [K] from water then enthalpy."""
        n = self.dry.size
        M, H = u[:n], u[n:]
        return M / self.dry, 273.15 + H / (self.dry * self.m.heat_solid + M * self.m.heat_water)

    def potential(self, X: Floats, T: Floats) -> Floats:
        """-ln(1 - y), straight beyond y = 1 - eps."""
        y = activity(self.iso, np.maximum(X, 0.0), 298.15) * saturation_pressure(T) / P
        edge = 1 - self.eps
        return np.where(y < edge, -np.log(1 - np.minimum(y, edge)), -np.log(self.eps) + (y - edge) / self.eps)

    def opened(self, T: Floats) -> Floats:
        """How far pores have opened, in a piece that only warms."""
        return np.clip((T - self.m.opens) / (self.m.open - self.m.opens), 0.0, 1.0)

    def laws(self, X: Floats, T: Floats) -> tuple[Floats, Floats, Floats]:
        """Conductivity, vapour conductivity, liquid conductivity."""
        m = self.m
        rho = self.dry / self.volume
        dense = 1 / m.density_solid + X / m.density_water
        phi = X / m.density_water / dense
        pores = np.clip(1 - rho * dense, 0.02, 0.98)
        c = np.minimum(T - 273.15, 150.0)
        k = (1 - phi) * np.polyval(m.conductivity_solid[::-1], c) + phi * np.polyval(
            m.conductivity_water[::-1], c
        )

        def porous(gas: Floats) -> Floats:
            """Maxwell and Eucken's pores of that conductivity."""
            return k * (2 * k + gas - 2 * pores * (k - gas)) / (2 * k + gas + pores * (k - gas))

        dry = porous(np.full_like(k, m.conductivity_air))
        wet = X**4 / (X**4 + m.wet_from**4)
        path = m.dry_path + (m.wet_path - m.dry_path) * wet
        vapour = path * m.vapour_in_air * (T / 273.15) ** 1.75 * P * M_W / (R * T)
        # closed cells: the vapour's heat is a part of the gas's conductivity, and comes through gas and walls together
        a = activity(self.iso, np.maximum(X, 0.0), 298.15)
        steep = a * (saturation_pressure(T + 0.01) - saturation_pressure(T - 0.01)) / 0.02 / P
        steep = steep / np.maximum(1 - a * saturation_pressure(T) / P, self.eps)
        shut = m.cell_gas * vapour
        heat = latent_heat(T) * steep
        closed = (porous(m.conductivity_air + heat * shut) - dry) / heat
        opened = self.opened(T)
        vapour = opened * pores * vapour + (1 - opened) * closed
        liquid = rho * m.liquid * np.exp(-m.liquid_energy / R * (1 / T - 1 / 298.15))
        return dry, vapour, liquid

    def out(
        self, end: EndAir, cell: int, T: Floats, psi: Floats, k: Floats, v: Floats
    ) -> tuple[float, float]:
        """Water and heat leaving at one end."""
        if end.h + end.h_contact + end.emissivity == 0:
            return 0.0, 0.0
        inside = k[cell] / self.half[cell]

        def surplus(s: float) -> float:
            taken = end.h * (s - end.air) + end.h_contact * (s - end.contact)
            return float(
                taken + end.emissivity * 5.670374419e-8 * (s**4 - end.wall**4) - inside * (T[cell] - s)
            )

        surface = brentq(surplus, 200.0, 700.0, xtol=1e-10)
        outer = end.open * end.h * LEWIS
        air = -np.log(1 - end.vapour_pressure / P)
        water = (psi[cell] - air) / (self.half[cell] / v[cell] + 1 / outer) if outer > 0 else 0.0
        hv = self.m.heat_water * (T[cell] - 273.15) + latent_heat(T[cell])
        return self.area * water, self.area * (inside * (T[cell] - surface) + hv * water)

    def rates(self, u: Floats, first: EndAir, last: EndAir) -> Floats:
        """d(water, enthalpy)/dt."""
        X, T = self.split(u)
        psi = self.potential(X, T)
        k, v, q = self.laws(X, T)

        def between(g: Floats) -> Floats:
            return self.area / (self.half[:-1] / g[:-1] + self.half[1:] / g[1:])

        wv, wl = between(v) * -np.diff(psi), between(q) * -np.diff(X)
        hv = self.m.heat_water * (T - 273.15) + latent_heat(T)
        hl = self.m.heat_water * (T - 273.15)
        # in closed pores liquid of the same temperature creeps back
        opened = self.opened(T)
        goes = (opened[1:] + opened[:-1]) / 2
        back = (1 - goes) * wv
        heat = between(k) * -np.diff(T) + wv * (hv[1:] + hv[:-1]) / 2 + (wl - back) * (hl[1:] + hl[:-1]) / 2
        wv = wv - back
        w0, h0 = self.out(first, 0, T, psi, k, v)
        w1, h1 = self.out(last, -1, T, psi, k, v)
        water = np.concatenate([[-w0], wv + wl, [w1]])
        warmth = np.concatenate([[-h0], heat, [h1]])
        return np.concatenate([-np.diff(water), -np.diff(warmth)])
