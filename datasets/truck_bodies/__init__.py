"""An invented builder of painted truck bodies: film readings, gauge checks and studies, oven and washer logs, events."""

from .generate import SEED, Month, simulate, truth, write, write_demo
from .scenario import SHOP, Scenario, Style
from .streams import MONTHS
from .studies import log_studies
from .tables import Table, cells, to_csv
from .variants import in_micrometers, one_booth, three_coats, variant

__all__ = [
    "MONTHS",
    "SEED",
    "SHOP",
    "Month",
    "Scenario",
    "Style",
    "Table",
    "cells",
    "in_micrometers",
    "log_studies",
    "one_booth",
    "simulate",
    "three_coats",
    "to_csv",
    "truth",
    "variant",
    "write",
    "write_demo",
]
