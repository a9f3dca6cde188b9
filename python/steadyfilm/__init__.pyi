"""Public names of steadyfilm; written by tests/regenerate."""

from steadyfilm.errors import ConstantDataWarning as ConstantDataWarning
from steadyfilm.errors import DataProblem as DataProblem
from steadyfilm.errors import DataProblemsError as DataProblemsError
from steadyfilm.errors import InvalidInputError as InvalidInputError
from steadyfilm.errors import MissingDataWarning as MissingDataWarning
from steadyfilm.errors import MissingExtraError as MissingExtraError
from steadyfilm.errors import PlanError as PlanError
from steadyfilm.errors import SteadyfilmError as SteadyfilmError
from steadyfilm.errors import SteadyfilmWarning as SteadyfilmWarning
from steadyfilm.limits import ControlLimits as ControlLimits
from steadyfilm.limits import SpecLimits as SpecLimits
from steadyfilm.summary import Summary as Summary
from steadyfilm.summary import summarize as summarize

__version__: str
__all__ = [
    "ConstantDataWarning",
    "ControlLimits",
    "DataProblem",
    "DataProblemsError",
    "InvalidInputError",
    "MissingDataWarning",
    "MissingExtraError",
    "PlanError",
    "SpecLimits",
    "SteadyfilmError",
    "SteadyfilmWarning",
    "Summary",
    "__version__",
    "summarize",
]
