"""One day at the stove: heat, cooling, settling, when to pour, what to add, and where the grams went."""

from typing import TYPE_CHECKING

from labkit.lazy import load_when_asked

if TYPE_CHECKING:
    from labkit.batch.additions import Additions, smallest_additions
    from labkit.batch.balance import fill_spread, mass_balance, usual_loss
    from labkit.batch.batches_apart import BatchesApart, compare_batches
    from labkit.batch.bath import boiling_point, standard_pressure, water_bath_ceiling
    from labkit.batch.cautions import cautions_for, where_cautions
    from labkit.batch.colour_additions import ColourAdditions, smallest_colour_additions
    from labkit.batch.cooling import CoolingFit, fit_cooling
    from labkit.batch.demo import open_batch
    from labkit.batch.known import known_of
    from labkit.batch.melt import melt_of
    from labkit.batch.order import Ingredient, order_of_heating
    from labkit.batch.panel import BatchPanel
    from labkit.batch.past import past_batches
    from labkit.batch.plot import plot_cooling
    from labkit.batch.pot import Pot
    from labkit.batch.settling import settling_speed, yield_stress_to_hold
    from labkit.batch.side_effects import Watched
    from labkit.batch.solubility import cloud_point, ideal_solution_temperature
    from labkit.batch.story import (
        batch_summary,
        batches_figure,
        batches_table,
        cooling_curve,
        day_table,
        heating_table,
        pot_now,
        tell_batch,
        tell_batches,
    )
    from labkit.batch.thermometer import ThermometerLog, read_thermometer
    from labkit.batch.trial import BatchTrial, start_batch
    from labkit.batch.viscosity import (
        grunberg_nissan,
        kendall_monroe,
        krieger_dougherty,
        oil_names,
        oil_viscosity,
        solid_fraction,
        viscosity_curve,
    )
    from labkit.batch.window import PourWindow, pour_window

_HOMES = {
    "Additions": "additions",
    "BatchPanel": "panel",
    "BatchTrial": "trial",
    "BatchesApart": "batches_apart",
    "ColourAdditions": "colour_additions",
    "CoolingFit": "cooling",
    "Ingredient": "order",
    "Pot": "pot",
    "PourWindow": "window",
    "ThermometerLog": "thermometer",
    "Watched": "side_effects",
    "batch_summary": "story",
    "batches_figure": "story",
    "batches_table": "story",
    "boiling_point": "bath",
    "cautions_for": "cautions",
    "cloud_point": "solubility",
    "compare_batches": "batches_apart",
    "cooling_curve": "story",
    "day_table": "story",
    "fill_spread": "balance",
    "fit_cooling": "cooling",
    "grunberg_nissan": "viscosity",
    "heating_table": "story",
    "ideal_solution_temperature": "solubility",
    "kendall_monroe": "viscosity",
    "known_of": "known",
    "krieger_dougherty": "viscosity",
    "mass_balance": "balance",
    "melt_of": "melt",
    "oil_names": "viscosity",
    "oil_viscosity": "viscosity",
    "open_batch": "demo",
    "order_of_heating": "order",
    "past_batches": "past",
    "plot_cooling": "plot",
    "pot_now": "story",
    "pour_window": "window",
    "read_thermometer": "thermometer",
    "settling_speed": "settling",
    "smallest_additions": "additions",
    "smallest_colour_additions": "colour_additions",
    "solid_fraction": "viscosity",
    "standard_pressure": "bath",
    "start_batch": "trial",
    "tell_batch": "story",
    "tell_batches": "story",
    "usual_loss": "balance",
    "viscosity_curve": "viscosity",
    "water_bath_ceiling": "bath",
    "where_cautions": "cautions",
    "yield_stress_to_hold": "settling",
}

__all__ = [
    "Additions",
    "BatchPanel",
    "BatchTrial",
    "BatchesApart",
    "ColourAdditions",
    "CoolingFit",
    "Ingredient",
    "Pot",
    "PourWindow",
    "ThermometerLog",
    "Watched",
    "batch_summary",
    "batches_figure",
    "batches_table",
    "boiling_point",
    "cautions_for",
    "cloud_point",
    "compare_batches",
    "cooling_curve",
    "day_table",
    "fill_spread",
    "fit_cooling",
    "grunberg_nissan",
    "heating_table",
    "ideal_solution_temperature",
    "kendall_monroe",
    "known_of",
    "krieger_dougherty",
    "mass_balance",
    "melt_of",
    "oil_names",
    "oil_viscosity",
    "open_batch",
    "order_of_heating",
    "past_batches",
    "plot_cooling",
    "pot_now",
    "pour_window",
    "read_thermometer",
    "settling_speed",
    "smallest_additions",
    "smallest_colour_additions",
    "solid_fraction",
    "standard_pressure",
    "start_batch",
    "tell_batch",
    "tell_batches",
    "usual_loss",
    "viscosity_curve",
    "water_bath_ceiling",
    "where_cautions",
    "yield_stress_to_hold",
]

__getattr__ = load_when_asked(__name__, _HOMES)


def __dir__() -> list[str]:
    return __all__
