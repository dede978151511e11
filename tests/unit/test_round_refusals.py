"""What a record of a round tube may not ask for: each is refused by one sentence. Expected words: those of
the code.
"""

import copy
import tomllib
from pathlib import Path

import pytest
from each_case import each_case

from simharness.errors import InputError
from simharness.geometry.seam import half_open_seam
from simharness.records import parse_record

DATA = tomllib.loads((Path(__file__).parents[2] / "models" / "four-slot-tube-2g44.toml").read_text())
SLOT = {"offset_mm": 15.0, "length_mm": 57.0, "width_mm": 4.0, "position_mm": 100.0}
LAMINATE = {"permittivity": 4.4, "loss_tangent": 0.02}
BENT = {
    "kind": "bent-probe",
    "hole_height_mm": 20.0,
    "run_mm": 40.0,
    "rise_mm": 20.0,
    "wire_diameter_mm": 1.5,
    "coax_inner_mm": 1.27,
    "coax_outer_mm": 4.1,
}


def _refused(data) -> list[str]:
    with pytest.raises(InputError) as caught:
        parse_record(data)
    return caught.value.problems


def _changed(table: str, **fields):
    data = copy.deepcopy(DATA)
    data[table] |= fields
    return data


@each_case(
    "data, words",
    [
        (
            _changed("slot_rule", faces="both", back_offset_mm=15.0),
            "slots in the back of a round tube are not modelled",
        ),
        (_changed("slot_rule", shape="bent", aside_mm=3.0), "curved slots in a round tube are not modelled"),
        (_changed("slot_rule", ends="tapered"), "tapered slots in a round tube are not modelled"),
        (
            _changed("guide", laminate=LAMINATE),
            "a laminate needs a flat front, which a round tube does not have",
        ),
        (_changed("feed", connector="panel"), "a flat flange does not lie on a round tube"),
        (_changed("feed", flange_mm=12.7), "a flat flange does not lie on a round tube"),
        ({**DATA, "feed": BENT}, "a bent probe in a round tube is not modelled"),
        (
            {k: v for k, v in DATA.items() if k != "slot_rule"}
            | {"slot": [SLOT, SLOT | {"position_mm": 300.0, "face": "back"}]},
            "slot 2 face",
        ),
    ],
)
def test_one_sentence_refuses_what_no_model_covers(data, words):
    problems = _refused(data)
    assert len(problems) == 1
    assert words in problems[0]


def test_a_tube_has_no_seam_to_leave_open():
    with pytest.raises(InputError, match="no seam"):
        half_open_seam(parse_record(DATA), 0.2)
