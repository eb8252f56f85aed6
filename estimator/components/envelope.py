"""The room's thermal response: one heat store and a conductance, or a five-resistance network.

The network is the simple hourly method of ISO 13790:2008 (clause 12.2.2 and annex C): one mass,
one surface and one air temperature. The air temperature is linear in the heat brought to the air,
so the hour's coefficients K and B of ``K T = B + heat`` follow from it. Air exchange is left to the
room's balance, which counts it as heat brought to the air.
"""

from __future__ import annotations

from typing import NamedTuple

from dewledger.weather.numerics.compiled import compiled

SECONDS = 3600.0
# ISO 13790: heat transfer between air and surface, and between mass and surface, W/(m2 K); total
# surface over floor area.
AIR_SURFACE_W_M2K = 3.45
MASS_SURFACE_W_M2K = 9.1
SURFACE_PER_FLOOR = 4.5
# ISO 13790 table 12: mass area over floor area, heat capacity over floor area [J/(m2 K)].
MASS_CLASSES = {
    "very light": (2.5, 80000.0),
    "light": (2.5, 110000.0),
    "medium": (2.5, 165000.0),
    "heavy": (3.0, 260000.0),
    "very heavy": (3.5, 370000.0),
}


class Network(NamedTuple):
    """Conductances [W/K] between air, surface, mass and outdoors; ``used`` 0 leaves it out."""

    used: int = 0
    window_W_K: float = 0.0
    outer_mass_W_K: float = 0.0
    mass_surface_W_K: float = 1.0
    air_surface_W_K: float = 1.0
    mass_J_K: float = 1.0
    mass_share: float = 0.0  # mass area over total area
    window_loss_share: float = 0.0  # of surface gains, straight out through the windows
    ground_share: float = 0.0  # of the opaque conductance, to the ground
    ground_C: float = 0.0


NO_NETWORK = Network()


def network_of(
    floor_m2: float,
    opaque_W_K: float,
    window_W_K: float,
    mass_class: str,
    ground_W_K: float = 0.0,
    ground_C: float = 0.0,
) -> Network:
    """The network of a room.

    Parameters
    ----------
    opaque_W_K : conductance of opaque parts to outdoors
    ground_W_K : conductance of parts on the ground, at ``ground_C`` all year
    mass_class : key of MASS_CLASSES

    Raises
    ------
    ValueError : conductances that the network cannot hold

    Conductances come out in [W/K], the mass in [J/K]; ISO 13790:2008, 12.2.2, table 12 and annex C
    (values not checked against the text).
    """
    per_floor, capacity = MASS_CLASSES[mass_class]
    mass_surface = MASS_SURFACE_W_M2K * per_floor * floor_m2
    total = SURFACE_PER_FLOOR * floor_m2
    opaque = opaque_W_K + ground_W_K
    if opaque >= mass_surface:
        raise ValueError(
            f"conductances of {opaque:.0f} W/K are more than the room's mass of "
            f"{floor_m2:.0f} m2 of floor can pass on ({mass_surface:.0f} W/K); check them"
        )
    outer = 1.0 / (1.0 / opaque - 1.0 / mass_surface) if opaque > 0.0 else 0.0
    return Network(
        1,
        window_W_K,
        outer,
        mass_surface,
        AIR_SURFACE_W_M2K * total,
        capacity * floor_m2,
        per_floor / SURFACE_PER_FLOOR,
        window_W_K / (MASS_SURFACE_W_M2K * total),
        ground_W_K / opaque if opaque > 0.0 else 0.0,
        ground_C,
    )


@compiled
def shared_gains(network: Network, internal_W: float, solar_W: float) -> tuple[float, float, float]:
    """Gains to air, mass and surface [W]: half the internal gains to the air (annex C)."""
    rest = 0.5 * internal_W + solar_W
    to_mass = network.mass_share * rest
    to_surface = (1.0 - network.mass_share - network.window_loss_share) * rest
    return 0.5 * internal_W, to_mass, to_surface


@compiled
def opaque_outside(network: Network, outdoor_C: float) -> float:
    """Temperature [C] that the opaque parts see: outdoors and ground by their conductances."""
    return outdoor_C + network.ground_share * (network.ground_C - outdoor_C)


@compiled
def _surface_terms(
    network: Network, mass_before_C: float, outdoor_C: float, to_mass_W: float, to_surface_W: float
) -> tuple[float, float, float]:
    """S and r of surface temperature = (heat to air + r) / S; and the mass's own heat [W]."""
    rate = 2.0 * network.mass_J_K / SECONDS
    whole = rate + network.outer_mass_W_K + network.mass_surface_W_K
    own = (
        rate * mass_before_C
        + network.outer_mass_W_K * opaque_outside(network, outdoor_C)
        + to_mass_W
    )
    coupling = network.mass_surface_W_K / whole
    s = network.window_W_K + network.mass_surface_W_K * (1.0 - coupling)
    return s, network.window_W_K * outdoor_C + to_surface_W + coupling * own, own


@compiled
def air_coefficients(
    network: Network, mass_before_C: float, outdoor_C: float, internal_W: float, solar_W: float
) -> tuple[float, float]:
    """K [W/K] and B [W] of the air temperature: K T = B + heat brought to the air."""
    to_air, to_mass, to_surface = shared_gains(network, internal_W, solar_W)
    s, r, _ = _surface_terms(network, mass_before_C, outdoor_C, to_mass, to_surface)
    k = 1.0 / (1.0 / s + 1.0 / network.air_surface_W_K)
    return k, k * r / s + to_air


@compiled
def network_after(
    network: Network,
    mass_before_C: float,
    outdoor_C: float,
    internal_W: float,
    solar_W: float,
    air_C: float,
) -> tuple[float, float, float, float]:
    """The hour at its air temperature.

    Returns the mass temperature at the end of the hour, its mean, the surface temperature [C], and
    the heat into the room through the envelope [W], less gains lost through the windows.
    """
    _, to_mass, to_surface = shared_gains(network, internal_W, solar_W)
    s, r, own = _surface_terms(network, mass_before_C, outdoor_C, to_mass, to_surface)
    k = 1.0 / (1.0 / s + 1.0 / network.air_surface_W_K)
    heat = k * (air_C - r / s)
    surface = air_C - heat / network.air_surface_W_K
    whole = 2.0 * network.mass_J_K / SECONDS + network.outer_mass_W_K + network.mass_surface_W_K
    mass = (own + network.mass_surface_W_K * surface) / whole
    shell = (
        network.window_W_K * (outdoor_C - surface)
        + network.outer_mass_W_K * (opaque_outside(network, outdoor_C) - mass)
        - network.window_loss_share * (0.5 * internal_W + solar_W)
    )
    return 2.0 * mass - mass_before_C, mass, surface, shell
