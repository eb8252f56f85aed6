"""Three sites, four limits, two units: which one? Twelve lines of analysis."""

import dewledger as dw

case = dw.example_case("rooftop")
result = dw.sweep(case, {
    "site.weather": ["greensboro", "miami", "sand-point"],
    "humidity.limit": ["48 %", "50 %", "53 %", "55 %"],
    "unit": [{"efficiency": "11.2 EER"}, {"efficiency": "12 EER", "capacity_control": "variable"}],
}, out="three-sites")  # fmt: skip
dry = result.annual[result.annual["hours_above_range"] <= 50]
best = dry.loc[dry.groupby("site.weather")["energy_cost"].idxmin()]
shown = ["site.weather", "humidity.limit", "unit", "option", "hours_above_range", "energy_cost"]
print(best[shown].to_string(index=False))
