"""A programme that a caller brings along, held to the standard of those that are shipped.

It has the parts of a shipped one, every number with unit, source and note, and exactly the numbers that its kind asks for: those
of `popcorn` where it listens to the sound, those of `reheat` where the steam alone leads. A number keeps the unit of its model
and stays within reach of it, so that no table grows without bound; what counts levels stays as it is.
"""

from collections.abc import Iterator, Mapping

from service.programs.programme import Programme, ProgrammeError, Value, programme_of, shipped

_FACTOR = 5.0
_DEGREES = (-30.0, 120.0)
_WITHOUT_MODEL = {"1": 1.0, "s": 60.0}


def own_programme(table: Mapping[str, object]) -> Programme:
    """The programme that these parts make. Raises ProgrammeError that says where the first thing wrong is."""
    programme = programme_of(table)
    model = shipped()["popcorn" if "acoustic" in programme.led_by else "reheat"]
    for says, at in _differences(programme, model):
        raise ProgrammeError(says, ("values", *at))
    return programme


def _differences(programme: Programme, model: Programme) -> Iterator[tuple[str, tuple[str, ...]]]:
    """What is wrong with the numbers, and where: those that are missing, those that nothing asks for, those out of reach."""
    for key in sorted(model.values.keys() - programme.values.keys()):
        yield f"it is missing; {model.name} shows what a programme of this kind needs", (key,)
    for key, value in programme.values.items():
        if key not in model.values:
            yield "nothing in a programme of this kind asks for it", (key,)
            return
        if value.unit != model.values[key].unit:
            yield f"expected {model.values[key].unit}; received {value.unit}", (key, "unit")
        low, high = _reach(key, model.values[key])
        if not low <= value.value <= high:
            unit = "" if value.unit == "1" else f" {value.unit}"
            yield f"expected a number from {low:g} to {high:g}{unit}; received {value.value:g}", (key, "value")


def _reach(key: str, model: Value) -> tuple[float, float]:
    """The least and the most that a number may be."""
    if key.endswith("_levels"):
        return model.value, model.value
    if model.unit == "degC":
        return _DEGREES
    if model.value == 0.0:
        return 0.0, _WITHOUT_MODEL.get(model.unit, 0.0)
    most = _FACTOR * abs(model.value)
    least = -most if model.value < 0.0 else model.value / _FACTOR
    if model.unit == "1" and abs(model.value) < 1.0:
        # A share may be none and all, a spread neither.
        return (least if model.value < 0.0 or key.endswith("_sd") else 0.0), min(most, 1.0)
    return least, most
