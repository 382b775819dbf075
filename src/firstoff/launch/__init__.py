"""The public Python interface: one function per verb.

from pathlib import Path
from firstoff import launch

job = launch.read_job(Path("damper.toml"))
prediction = launch.predict(launch.plan(job), builds=16384, seed=1)
"""

from firstoff.launch.check import Report, check
from firstoff.launch.correcting.correct import LaunchCorrection, correct
from firstoff.launch.correcting.try_settings import Tried, try_settings
from firstoff.launch.correcting.write import write_correction
from firstoff.launch.curve import write_curve
from firstoff.launch.explaining.explain import LaunchExplanation, explain, explain_files, read_trial, read_trials
from firstoff.launch.finishing.placing import place
from firstoff.launch.finishing.plan import FinishPlan, plan_finish
from firstoff.launch.folder import write_explanation, write_plan, write_prediction, write_proof
from firstoff.launch.following.follow import Follow, follow
from firstoff.launch.gauge import LaunchGauge, gauge
from firstoff.launch.hit_choice.account import write_hit_choice
from firstoff.launch.hit_choice.choose import HitChoice, choose_for_hit
from firstoff.launch.hit_film import write_frames, write_hits
from firstoff.launch.job import Job, read_job
from firstoff.launch.new import new
from firstoff.launch.owner import claim, folder_for, folder_of
from firstoff.launch.plan import LaunchPlan, plan
from firstoff.launch.predict import LaunchPrediction, predict
from firstoff.launch.prove import Proof, prove
from firstoff.launch.release import LaunchRelease, release, weigh, write_release
from firstoff.launch.report import LaunchReport, report, write_report, write_setup_sheets
from firstoff.launch.stations import stations
from firstoff.launch.test_plan.paper import write_test_plan
from firstoff.launch.test_plan.test_plan import TestPlan, test_plan
from firstoff.launch.valve_choice.choose import LaunchChoice, choose, choose_valve
from firstoff.launch.valve_choice.sheet import write_sheet as write_chosen
from firstoff.launch.valve_choice.write import write_choice
from firstoff.launch.vehicle_target.target import Target, target
from firstoff.launch.vehicle_target.vehicle import Vehicle, read_vehicle

__all__ = [
    "FinishPlan", "Follow", "HitChoice", "Job", "LaunchChoice", "LaunchCorrection", "LaunchExplanation",
    "LaunchGauge", "LaunchPlan", "LaunchPrediction", "LaunchRelease", "LaunchReport", "Proof", "Report", "Target",
    "TestPlan", "Tried", "Vehicle", "check", "choose", "choose_for_hit", "choose_valve", "claim", "correct",
    "explain", "explain_files", "folder_for", "folder_of", "follow", "gauge", "new", "place", "plan", "plan_finish",
    "predict", "prove", "read_job", "read_trial", "read_trials", "read_vehicle", "release", "report", "stations",
    "target", "test_plan", "try_settings", "weigh", "write_choice", "write_chosen", "write_correction", "write_curve",
    "write_explanation", "write_frames", "write_hit_choice", "write_hits", "write_plan", "write_prediction",
    "write_proof", "write_release", "write_report", "write_setup_sheets", "write_test_plan",
]  # fmt: skip
