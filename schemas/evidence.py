"""What is told of the evidence beside a decision, described. Whoever adds to it describes it here."""

from marshmallow import Schema, fields

from schemas.answer import Told

STATUSES = ("absent", "waiting", "usable", "suspect")
_STATUS = "absent (no such sensor), waiting (nothing to go by yet), usable, or suspect (it has failed)"


class EstimateSchema(Schema):
    """A number that is not known exactly."""

    estimate = Told("number", "the estimate")
    low = Told("number", "the lower end of its interval")
    high = Told("number", "the upper end of its interval")


class AcousticSchema(Schema):
    """What the microphone heard."""

    status = Told("string", _STATUS)
    pops = Told("integer", "pops heard so far")
    rate_per_s = Told(
        "number", "pops a second of heating lately, those merged in the dead time included", nullable=True
    )
    silence_s = Told("number", "heating time since the last pop, as far as readings have come (s)", nullable=True)
    dead_time_s = Told("number", "how long the microphone is blind after a pop (s)", nullable=True)
    kernels_left = fields.Nested(
        EstimateSchema, allow_none=True, metadata={"description": "kernels that will still pop"}
    )
    stop_s = Told("number", "when the sound alone would stop the cook, on the cook clock (s)", nullable=True)


class MoistureSchema(Schema):
    """What the humidity sensor felt."""

    status = Told("string", _STATUS)
    vapour_g_m3 = Told("number", "newest vapour density beside the sensor (g/m3)", nullable=True)
    baseline_g_m3 = Told("number", "vapour density of the quiet beginning (g/m3)", nullable=True)
    onset_s = Told("number", "when steam began, corrected for the sensor's lag and delay (s)", nullable=True)
    slope_g_m3_s = Told("number", "the rise of the vapour at its steepest (g/m3 a second)", nullable=True)
    stop_s = Told("number", "when the steam alone would stop the cook, on the cook clock (s)", nullable=True)
    growth = Told("number", "of food: logarithm of the vapour later over earlier after the rise began", nullable=True)
    released_g_s_m3 = Told("number", "of food: integral of the vapour that was let out (g s/m3)", nullable=True)
    vigour = Told("number", "of food: the vapour lately over the most so far", nullable=True)
    evenness = Told(
        "number",
        "of food: logarithm of the rise of the vapour over what it would be, had it always been at its steepest",
        nullable=True,
    )
    steepness = Told(
        "number",
        "of food: logarithm of the steepest slope of the vapour times the time to steam, in g/m3",
        nullable=True,
    )
    load_g = fields.Nested(
        EstimateSchema, allow_none=True, metadata={"description": "of food: the masses that would have steamed so (g)"}
    )
    start_c = fields.Nested(
        EstimateSchema,
        allow_none=True,
        metadata={"description": "of food: the temperatures that it may have had (degC)"},
    )
    liquid_share = Told("number", "of food: how probably it is a liquid", nullable=True)


class HeatingSchema(Schema):
    """How much heat there was."""

    status = Told("string", _STATUS)
    heating_s = Told("number", "time with the heating on (s)")
    full_power_s = Told("number", "the same, weighted with the power level, less what a long pause has cost (s)")
    duty_cycle = Told("number", "share of full power over a cycle, where the oven switches in a rhythm")
    heat_in_kj = Told(
        "number", "of food: heat that the load has taken up, where the oven's rating was told (kJ)", nullable=True
    )


class EvidenceSchema(Schema):
    """What was concluded from each sensor."""

    acoustic = fields.Nested(AcousticSchema)
    moisture = fields.Nested(MoistureSchema)
    heating = fields.Nested(HeatingSchema)
