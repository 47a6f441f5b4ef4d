"""Proficiency rounds: scores, consensus, modes.

Goal       Say how far each laboratory's result lies from the assigned value, on a scale that
           was fixed before the round, and get an assigned value from the results if need be.
Scores     `z`, `z_prime` (σ_pt), `zeta`, `e_n` (the laboratory's own uncertainty),
           `difference`, `percent_difference`; `signals` sorts them at 2 and 3 (E_n: 1).
Consensus  `assigned_value(x, by=…)` with its uncertainty; `consensus_modes` for the question
           whether there is one population at all.
Shapes     Scores broadcast; NaN is no result. No score comes from a spread of 0.
Check      Constructed and published arithmetic; kernel modes at 25 digits.
"""

from validate.stats.proficiency_consensus import FEWEST as FEWEST
from validate.stats.proficiency_consensus import AssignedValue as AssignedValue
from validate.stats.proficiency_consensus import assigned_value as assigned_value
from validate.stats.proficiency_modes import Mode as Mode
from validate.stats.proficiency_modes import Modes as Modes
from validate.stats.proficiency_modes import consensus_modes as consensus_modes
from validate.stats.proficiency_modes import density as density
from validate.stats.proficiency_scores import difference as difference
from validate.stats.proficiency_scores import e_n as e_n
from validate.stats.proficiency_scores import percent_difference as percent_difference
from validate.stats.proficiency_scores import signals as signals
from validate.stats.proficiency_scores import z as z
from validate.stats.proficiency_scores import z_prime as z_prime
from validate.stats.proficiency_scores import zeta as zeta
