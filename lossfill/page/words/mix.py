"""What the step of mixing and curing says."""

TITLE = "Mix and cure"
PACK_BROKEN = (
    "the pack of this vessel cannot be read any more: make the pieces again under Piece, then come "
    "back"
)
NO_LOSS = "No loss is left to be filled, so there is nothing to mix."

AMOUNTS = "What to mix"
LOSS = "Loss {number}: {kind}"
MISSING = "Volume missing"
WITH_ERROR = "{value}, give or take {error}"
SKIN = "New skin to be coated"
BREAK = "Break to be glued"
DEEP = "Deepest"
AREA = "{cm2} cm²"
WAY = "Recommended"
NOTHING = "Nothing is mixed for this loss."

USES = {
    "join": "Glue it with {material}",
    "fill": "Fill it with {material}",
    "insert": "Make the insert of {material}",
    "coat": "Coat it with {material}",
    "metal": "Lay on {material}",
}
ALL = "In all"
GRAMS = "{mass} g"
GRAMS_AND_VOLUME = "{mass} g, which is {volume} ml"
ERROR = "give or take {error} g, as the form may be off"
LAYERS = ("in one layer", "in {count} layers")
COATS = ("in one coat", "in {count} coats")
BATCHES = ("Mix once", "Mix {count} times, each time this much")
TAKES = ("Take", "Take {count} times, each time this much")
COLUMNS = ("Part", "Weigh", "Or by syringe")
TOTAL_COLUMNS = ("Material and its parts", "Weigh", "Or by syringe")
MASS = "{mass:.2f} g"
SYRINGE = "{volume:.2f} ml"
NO_SYRINGE = "weigh it"
HOW = "How was this reckoned?"
HOW_TABLE = "From mm³ to gram"
HOW_COLUMNS = ("Step", "Sum", "Makes")
HOW_GIVEN = "measured"
SOURCE = "Figures of the material: {source}."

TOTALS = "For the whole vessel"
TOTALS_SAY = "Where losses share a sitting, mix for all of them at once."
TOTALS_TABLE = "What to have at hand"
IN_BATCHES = ("in one batch", "in {count} batches")

CHOOSE = "Materials"
CHOOSE_SAYS = "Generic materials, no brands. Their figures are in the table that comes along."
FILL_FOR = "Fill loss {number} with"
JOIN = "Glue inserts with"
COAT = "Coat the fill with"
SIDES = "Coat which side"
SIDE_NAMES = {"both": "inside and outside", "outer": "outside only", "inner": "inside only"}
METAL = "Lay metal on it"
RECOMMENDED = "As recommended: {name}"
NONE = "None"

WHEN = "When you work"
START = "Begin on"
START_SAYS = "With a date the plan tells days and times; without it counts from the first day."
START_TIME = "Begin at"
OPENS = "Steps may begin from"
CLOSES = "Steps may begin until"
HOUR = "{hour}:00"
DAYS_OFF = "Days without work"
DAYS = {
    "mon": "Monday",
    "tue": "Tuesday",
    "wed": "Wednesday",
    "thu": "Thursday",
    "fri": "Friday",
    "sat": "Saturday",
    "sun": "Sunday",
}
DATES_OFF = "Holidays"
DATES_OFF_SAYS = "Dates with commas between them, such as 2026-12-24..2026-12-26, 2027-01-01."
APPLY = "Reckon with these"

PLAN = "Plan of the work"
PLAN_SAYS = (
    "{steps} over {days}. Waits are the middle of what is usual for each material; what is still "
    "soft waits longer."
)
STEPS = ("One step", "{count} steps")
PLAN_DAYS = "about {days:.0f} days"
PLAN_HOURS = "about {hours:.0f} hours"
PLAN_TABLE = "Steps in order"
PLAN_COLUMNS = ("Step", "Day", "Time", "What to do", "Losses", "Then wait", "Ready")
SAME_CARE = "Take care as at step {number}."
CALENDAR = "Download the plan for your calendar"
CALENDAR_FILE = "{name}_plan.ics"
CALENDAR_SAYS = "It rings where a wait ends. Brought in anew after a change, its events are moved."
NO_CALENDAR = "Give a date to begin on, and the plan can be downloaded for your calendar."
