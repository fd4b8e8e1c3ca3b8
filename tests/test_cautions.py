"""The register of cautions: complete, raised where it applies, and deferring to those who know."""

import pytest

from lossfill.cautions import DEFERENCE, REGISTER, Work, cautions_for, known_keys

# What the register has to know, each by words that its caution must hold.
DANGERS = {
    "rash": "poison ivy",  # lacquer dermatitis and what it crosses with
    "mango": "cashew",
    "uncured resin and hardener": "nitrile",
    "solvents": "flames",
    "silica": "mask",
    "gives off heat": "small batches",
    "sharp": "gloves",
    "lead or cadmium": "tested",
    "food or drink": "display",
    "dishwasher": "microwave",
    "sunlight": "lacquer",
}


@pytest.mark.parametrize(("danger", "advice"), DANGERS.items())
def test_each_danger_has_one_caution_with_its_advice(danger, advice):
    told = [one.words.lower() for one in REGISTER if danger in one.words.lower()]
    assert len(told) == 1
    assert advice in told[0]


def test_keys_are_unique_and_every_caution_is_raised_somewhere():
    assert len(set(known_keys())) == len(REGISTER)
    for one in REGISTER:
        for work in one.works:
            assert one.words in cautions_for((work,), (one.key,))
        others = set(Work) - one.works
        assert one.words not in cautions_for(others, known_keys())


def test_a_caution_of_a_material_is_raised_by_it_alone():
    def speaks_of_lacquer(keys):
        return any("Raw lacquer" in words for words in cautions_for((Work.JOIN,), keys))

    assert speaks_of_lacquer(("lacquer",))
    assert not speaks_of_lacquer(("resin",))


@pytest.mark.parametrize("work", list(Work))
def test_every_list_ends_by_giving_way(work):
    told = cautions_for((work,), known_keys())
    assert told[-1] == DEFERENCE
    assert len(told) > 1  # no work is without a danger
    assert len(set(told)) == len(told)
    for authority in ("safety data sheet", "local rules", "licensed practice"):
        assert authority in told[-1].lower()


def test_nothing_is_called_fit_for_food():
    # 21 CFR 175.300 and Regulation (EC) 1935/2004, article 3: not shown for any mended place.
    everything = " ".join(one.words for one in REGISTER).lower()
    for joint in (" ", "-", ""):
        assert joint.join(("food", "safe")) not in everything
    for claim in ("safe for food", "safe to eat", "fit for food"):
        assert claim not in everything
