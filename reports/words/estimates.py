"""What stands below every result, picture and part of a report: what it is, and who decides."""

# One line: at the terminal, at the foot of a picture, first in summary.json.
CAUTION = (
    "Estimates for comparing options, no guarantee; local codes and the licensed engineer decide."
)
# The same at length, where there is room.
ESTIMATE = (
    "Estimates for comparing options on one weather year: no forecast of a bill, no guarantee of "
    "savings or of room conditions."
)
AUTHORITY = (
    "Energy code findings must be verified against the adopted edition with its amendments; the "
    "authority having jurisdiction decides. Refrigerant, electrical and indoor-air safety follow "
    "local codes. Not an engineering document under seal: design decisions rest with a licensed "
    "professional."
)
EQUIPMENT = (
    "Equipment is represented by its stated ratings. Verify the chosen product’s capacity, "
    "moisture removal and reheat with its maker at the design conditions."
)
COSTS = (
    "Costs are of the modeled equipment alone at the prices listed. They are estimates for "
    "comparing options, no quotation and no forecast of a bill."
)
