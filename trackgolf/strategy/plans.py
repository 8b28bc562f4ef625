"""Three plans of a round: on plan, fewest strokes, rule of thumb; each scored in the same model."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from geo.frame import LocalFrame
from geo.geodesic import distance_bearing
from geo.units import YARD_M
from trackgolf.bag import Bag
from trackgolf.course import Course
from trackgolf.errors import BagError, CourseError
from trackgolf.personal_par import personal_pars
from trackgolf.plan import PLAN_COLUMNS, Plan, PlanSettings, plan_round, tolerance_m
from trackgolf.plan_ground import PlanGround, plan_frame, plan_grounds
from trackgolf.plan_search import PlanRules
from trackgolf.strategy.model import HoleModel, make_model
from trackgolf.strategy.odds import Odds, hole_odds
from trackgolf.strategy.policies import rule_of_thumb
from trackgolf.strategy.settings import FEWEST_STROKES, LIES, Prices, StrategySettings
from trackgolf.strategy.site import HoleSite, hole_sites
from trackgolf.strategy.value import Goal, Solution, Stroke, solve, stroke_at

__all__ = [
    "PLAN_NAMES",
    "HolePlan",
    "PlannedShot",
    "RoundPlans",
    "hole_plans",
    "plan_holes",
    "player_level",
    "shots_of",
]

PLAN_NAMES = ("on plan", "fewest strokes", "rule of thumb")
