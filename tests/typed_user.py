"""A user's code as mypy sees it (.ci/types): each mistake must be one, or its ignore is unused."""

import dewledger as dw

study = dw.simulate(dw.example_case("rooftop"))
gas = study.option("gas")
right: float = gas.total("electricity_kWh")
misspelt = gas.total("electricity_kwh")  # type: ignore[arg-type]
unknown = study.anual  # type: ignore[attr-defined]
no_number: float = study.hourly("gas")  # type: ignore[assignment]
wrong_method = dw.sweep(study.case, {}, method="random")  # type: ignore[arg-type]
no_text = dw.load_case(3)  # type: ignore[arg-type]
