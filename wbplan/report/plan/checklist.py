"""What each person does before the first take, as lines that can be ticked.

One list for the camera, one for each light. What stands in the scenario comes first, then what the
search suggests in its place, marked as such, since it goes with another setting.
"""

from __future__ import annotations

from dataclasses import dataclass

from wbplan.exposure.equation import name_t_stop
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.lights import LightPlan
from wbplan.report.base import words
from wbplan.report.exposure.words import say_flicker, say_nd_shot
from wbplan.report.mixed.words import say_change, say_loss


@dataclass(frozen=True)
class Duty:
    """What is to be done about one thing: ``do`` is ticked off, ``instead`` only on a decision."""

    name: str
    do: tuple[str, ...]
    instead: tuple[str, ...] = ()


def list_camera_duties(plan: SetupPlan) -> Duty:
    """List what is set on the camera, in the order in which it is set."""
    shooting, exposure = plan.setup.shooting, plan.exposure
    setting = f"White balance {words.say_dial(plan.dial, plan.setup.camera.menu.cc_per_step)}"
    duties = [
        f"{setting}; automatic white balance off",
        f"EI {shooting.ei:g}, {shooting.fps:.6g} fps, shutter {words.say_exposure_time(shooting)}",
    ]
    if exposure is None:
        duties.append(f"{name_t_stop(plan.key.t_stop.value)} for {plan.setup.key}")
    else:
        stop = f"{name_t_stop(exposure.t_stop)} for {plan.setup.key}"
        duties.append(f"{stop}, {say_nd_shot(exposure)}")
    encoding = plan.setup.encoding
    duties.append(f"Record {encoding.curve}, {encoding.gamut}, {encoding.levels_words}")
    if plan.lut:
        duties.append(f"Hand over or load {plan.lut.file_name}")
    if any(each.is_open for each in (plan.exact.mired, plan.exact.tint_cc)):
        duties.append("Shoot a grey card at the key: the band says how far it may be off")
    return Duty("Camera", tuple(duties))


def list_light_duties(plan: SetupPlan) -> tuple[Duty, ...]:
    """List what is done at each light, in the order of the lights."""
    sources = plan.setup.sources
    duties = []
    for light, source in zip(plan.lights, sources, strict=True):
        open_at = [each.name for each in plan.positions if light.name in each.predicted]
        do = [_say_state(light, bool(open_at))]
        if open_at:
            do.append(f"Its lux is predicted at {', '.join(open_at)}: read it there")
        if source.flicker is not None and light.on:
            do.append(f"It flickers ({say_flicker(source.flicker)}): keep to a safe shutter")
        if source.flash:
            do.append("Flash: once within every exposure; read it in lux seconds")
        duties.append(Duty(light.name, tuple(do), _list_suggested(plan, light.name)))
    return tuple(duties)


def _say_state(light: LightPlan, is_predicted: bool) -> str:
    if not light.on:
        return "Switched off"
    if light.filter_name == "none":
        return f"Burns as it was {'planned' if is_predicted else 'read'}; nothing before it"
    tail = "; read it again behind the filter" if light.is_model else ""
    return f"Hang {light.filter_name}: costs {words.say_stops(light.loss_stops)}{tail}"


def _list_suggested(plan: SetupPlan, name: str) -> tuple[str, ...]:
    advice = plan.advice
    if advice is None:
        return ()
    said = []
    if advice.plans and advice.suggested:
        chosen = advice.plans[advice.suggested]
        for change in chosen.changes:
            if change.light == name:
                loss = say_loss(change.loss_stops)
                with_setting = f"with {words.say_setting(chosen.dial)} on the camera"
                said.append(f"{say_change(change)}: {loss}; {with_setting}")
    return tuple(said)
