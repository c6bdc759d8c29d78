"""What a laboratory or a panel saw of the product, as the file states it: a marker of rancidity, acceptance.

They are no ways of failing of their own beside those that have causes, so a file without them lacks nothing.
"""

from __future__ import annotations

from functools import partial

from hardtack import reference
from hardtack.failures.names import ACCEPTANCE, MARKER
from hardtack.failures.running import Warmth
from hardtack.keeping.judged import Judged, given_or
from hardtack.product.failures_spec import AcceptanceSpec, MarkerSpec
from hardtack.product.schema import Product
from hardtack.sourced import Sourced, Used


def observed_failures(product: Product) -> tuple[Judged, ...]:
    """The marker and the panel's day the file states, each with what it leans on."""
    failures = product.failures
    if failures is None:
        return ()
    found = []
    if failures.marker is not None:
        found.append(_marker(failures.marker))
    if failures.acceptance is not None:
        found.append(_acceptance(failures.acceptance))
    return tuple(found)


def _marker(spec: MarkerSpec) -> Judged:
    from hardtack.failures import marker

    name = f"{spec.marker} of {spec.layer}"
    energy = _by_energy(spec.activation_energy, spec.at.value, f"activation energy of {name}")
    shelf = reference.lookup("rancidity", "bakery goods").values["Q10"]
    if energy is None:
        Q10, used_Q10 = given_or(spec.Q10, shelf, f"factor on the rise of {name} per 10 K")
        energy = Warmth(spec.at.value, Q10), used_Q10
    warmth, warmth_used = energy
    made = marker.Marker(
        layer=spec.layer,
        marker=spec.marker,
        rise=spec.rise,
        rate=spec.rate.value,
        start=spec.start.value,
        limit=spec.limit.value,
        a=None if spec.activity is None else spec.activity.value,
        warmth=warmth,
        provenance=spec.rate.provenance,
        source=spec.rate.source,
    )
    used = [
        Used(f"rise of {name}", spec.rate, True),
        Used("temperature of that rise", spec.at, True),
        Used(f"{name} when packed", spec.start, True),
        Used(f"limit of {name}", spec.limit, True),
        warmth_used,
    ]
    if spec.activity is not None:
        used.append(Used("activity of that rise", spec.activity, True))
    return Judged(MARKER, spec.layer, partial(marker.course, spec=made), tuple(used))


def _acceptance(spec: AcceptanceSpec) -> Judged:
    from hardtack.failures import acceptance

    used = [
        Used(f"time until {spec.rejecting.value:.0%} of the panel rejected it", spec.accepted_for, True),
        Used("share of the panel rejecting", spec.rejecting, True),
        Used("temperature the panel's packs were kept at", spec.at, True),
    ]
    if spec.humidity is not None:
        used.append(Used("humidity the panel's packs were kept in", spec.humidity, True))
    warmth = None
    if spec.Q10 is not None:
        warmth = Warmth(spec.at.value, spec.Q10.value)
        used.append(Used("factor on acceptance per 10 K", spec.Q10, True))
    energy = _by_energy(spec.activation_energy, spec.at.value, "activation energy of acceptance")
    if energy is not None:
        warmth = energy[0]
        used.append(energy[1])
    made = acceptance.Acceptance(
        layer=spec.layer,
        life=spec.accepted_for.value,
        rejecting=spec.rejecting.value,
        T=spec.at.value,
        humidity=None if spec.humidity is None else spec.humidity.value,
        warmth=warmth,
        provenance=spec.accepted_for.provenance,
        source=spec.accepted_for.source,
    )
    return Judged(ACCEPTANCE, spec.layer, partial(acceptance.course, spec=made), tuple(used), bounded=True)


def _by_energy(energy: Sourced | None, T: float, what: str) -> tuple[Warmth, Used] | None:
    """The law of an activation energy from T [K], where the file gives one."""
    return None if energy is None else (Warmth(T, energy=energy.value), Used(what, energy, True))
