"""What a person who is about to make and glue in a piece should be reminded of.

A list of cautions ends by giving way to those who know better; nothing here promises what a filled
vessel is fit for.
"""

CAUTIONS = (
    "Break edges are sharp: wear gloves that resist cuts.",
    "Dust from sanding prints, putty or ceramic harms the lungs, and ceramic dust can hold "
    "crystalline silica: sand wet, draw the dust off and wear a well-fitting mask for fine dust.",
    "Uncured resin and raw lacquer can bring on a lasting skin allergy: wear gloves that suit the "
    "product and work in fresh air.",
    "Treat a filled vessel as one for display, unless a licensed laboratory has tested it for "
    "another use.",
    "The safety data sheet of each product, your local rules and licensed practice come before "
    "anything said here.",
)
