"""Invent places, plates and their truth, by means that share no code with a fit."""

from wherestood.demo.invented import InventedCase, invent_case, invent_case_in
from wherestood.demo.settings import InventionSettings, draw_settings
from wherestood.demo.truth import DemoTruth, demo_truth
from wherestood.demo.write import DemoFiles, write_demo

__all__ = [
    "DemoFiles",
    "DemoTruth",
    "InventedCase",
    "InventionSettings",
    "demo_truth",
    "draw_settings",
    "invent_case",
    "invent_case_in",
    "write_demo",
]
