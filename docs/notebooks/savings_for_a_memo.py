# %% [markdown]
# # Savings for a memo
#
# What does condenser-heat reheat save against what is in the building today, how sure is that,
# and which sentence and picture go into the memo? The case is invented; the weather is public.

# %%
from pathlib import Path

import dewledger as dw

case = dw.example_case("music-school")
case

# %% [markdown]
# One option of the case is the reference: what is in place today. Every option runs on the same
# weather year, hour by hour.

# %%
study = dw.run_study(case)
columns = ["electricity_kWh", "gas_kWh", "hours_above_range", "recovered_share", "energy_cost"]
annual = study.annual[columns]
annual.round(2)

# %% [markdown]
# Compare energy only between options that hold the room alike. The identity of every hour and every
# total: overcooling heat = recovered + purchased + unmet.

# %%
reference = study.case.reference_key
alike = annual[annual["hours_above_range"] <= annual.loc[reference, "hours_above_range"] + 50]
saving = (alike.loc[reference, "energy_cost"] - alike["energy_cost"]).sort_values()
parts = study.annual[["reheat_recovered_kWh", "reheat_purchased_kWh", "reheat_unmet_kWh"]]
assert (parts.sum(axis=1) - study.annual["overcooling_heat_kWh"]).abs().max() < 1e-6
saving.round(0)

# %% [markdown]
# When in the year: the month's purchased reheat of the reference, and the worst day.

# %%
monthly = study.monthly.loc[reference, "reheat_purchased_kWh"]
hourly = study.hourly(reference)
worst = hourly["reheat_purchased_kWh"].resample("D").sum().idxmax()
print(f"most purchased reheat in month {monthly.idxmax()}, day {worst:%d %B}")

# %% [markdown]
# How sure: a drier set point and a weaker coil, each a changed copy of the case. For ranges of all
# assumptions together run `dewledger run --sensitivity`.

# %%
changes = {
    "as stated": {},
    "limit 52 %": {"humidity.limit": "52 %"},
    "outdoor air +25 %": {"air.outdoor_flow": f"{1.25 * float(case.air.outdoor_flow)} m3/s"},
}
for name, change in changes.items():
    costs = dw.run_study(case.with_values(change), codes=False, sizing=False).annual["energy_cost"]
    print(f"{name}: saves {costs[reference] - costs[saving.index[-1]]:,.0f} USD a year")

# %% [markdown]
# The picture and the sentence.

# %%
folder = Path("memo")
folder.mkdir(exist_ok=True)
study.plot("overview").savefig(folder / "overview.png", dpi=150)
study.plot("reheat-origin").savefig(folder / "reheat-origin.png", dpi=150)
best = study.option(saving.index[-1])
print(
    f"{best.title} saves {saving.iloc[-1]:,.0f} USD a year of "
    f"{annual.loc[reference, 'energy_cost']:,.0f} and keeps the room above its range "
    f"{best.annual['hours_above_range']:,} h a year. "
    "An estimate for comparing options, to be checked by a licensed engineer."
)
