# SPDX-License-Identifier: MIT
"""What was assumed of a vehicle is said once, in words."""

from __future__ import annotations

from descent.report.sentences import plan_words
from descent.report.vehicle_assumptions import assumed_values
from descent.vehicle.catalogue import load_vehicle


def test_axles_alike_are_said_once_and_others_named() -> None:
    found = assumed_values(["axles.steer.fade onset = 300C", "axles.drive.fade onset = 300C",
                            "axles.steer.radius = 7.5in", "axles.drive.radius = 8.25in", "vehicle.tare = 33000lb"],
                           plan_words("en"))
    assert found == ["brakes begin to fade at 300C", "drum or rotor radius (steer) 7.5in",
                     "drum or rotor radius (drive) 8.25in", "empty weight 33000lb"]


def test_no_field_of_a_class_is_left_as_a_key() -> None:
    for text in assumed_values(load_vehicle("motorcoach").assumptions, plan_words("en")):
        assert "axles." not in text and "vehicle." not in text
