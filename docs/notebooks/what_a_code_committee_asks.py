# %% [markdown]
# # What a code committee asks
#
# If a code allows reheat only where most of it is recovered, where does condenser heat meet the
# rule, and what does each threshold cost? Three climates here; a folder of weather files
# (`"site.weather": "stations/*.csv"`) makes it a thousand, and `cluster=` spreads them.
# Findings are of this case and must be verified against the adopted text.

# %%
from pathlib import Path

import dewledger as dw

case = dw.example_case("rooftop")
out = Path("committee")
result = dw.sweep(
    case,
    {"site.weather": ["greensboro", "miami", "sand-point"], "humidity.limit": ["50 %", "55 %"]},
    out,
)
result

# %% [markdown]
# One row a point and option. The recovered share is over the year; energy codes compare it with a
# threshold.

# %%
rows = result.annual[result.annual["option"] == "condenser"]
shares = rows.pivot(index="station", columns="humidity.limit", values="recovered_share")
shares

# %% [markdown]
# What the rule saves: purchased energy of electric reheat, less that of condenser heat.

# %%
site = result.annual.pivot(
    index=["station", "humidity.limit"], columns="option", values="site_kWh"
).astype(float)
saved = (site["electric"] - site["condenser"]) / site["electric"]
saved.map("{:.0%}".format)

# %% [markdown]
# The verdict of each point with its reason, and how many points stand at each.

# %%
result.annual.groupby(["option", "code_verdict"]).size()

# %% [markdown]
# Where reheat is needed at all: the dehumidification calls of the year by outdoor temperature, from
# the hourly ledger of one point, and a heat map of the hour and the month.

# %%
study = dw.run_study(case)
hourly = study.hourly("condenser")
called = hourly[hourly["moisture_call_flag"] > 0]
by_temp = called.groupby((called["outdoor_temp_C"] // 5 * 5).astype(int))["overcooling_heat_kWh"]
print(by_temp.agg(["size", "sum"]).round(0))
study.plot("humidity-map").savefig(out / "humidity-map.png", dpi=150)

# %% [markdown]
# Every column has its unit and definition.

# %%
columns = dw.ledger_columns()
print(len(columns), columns["overcooling_heat_kWh"]["definition"])
