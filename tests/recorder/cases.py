"""The cases to record: words of the command line by a name that stays when a command is renamed.

Every case has its night, so that no answer depends on the clock. ``{data}`` is the folder of the demo files,
``{scratch}`` an empty folder with copies of the demo's equipment, horizons and projects. A command that was renamed is
listed with all its names, the newest first: a tree runs the first one it has.
"""

RENAMED = {"objects": ("objects", "suits")}

NIGHT = "2026-11-10"
RIGS = ("nebulae", "galaxies", "wide", "travel", "survey", "old pier")
# By site (target, filter, night): galaxies in the dark and under the Moon, a nebula in a line, others low and north.
ADVICE = {
    "hill": (("NGC 7331", "L", NIGHT), ("NGC 7331", "L", "2026-11-24"), ("NGC 7000", "Ha", "2026-08-12"),
             ("IC 434", "L", "2026-05-10"), ("M 82", "L", "2026-03-14")),
    "paddock": (("NGC 253", "L", NIGHT), ("NGC 253", "L", "2026-11-24"), ("NGC 3372", "Ha", "2026-03-14"),
                ("IC 434", "L", "2026-05-10"), ("NGC 5128", "L", "2026-04-18")),
}
NO_LINE = ("survey",)  # rigs without a line filter take the first one instead
NIGHTS = (NIGHT, "2026-11-24", "2026-03-14", "2026-05-10", "2026-08-12")
NIGHT_RIGS = ("nebulae", "wide")

_COMMANDS = {
    "gear": "gear", "sources": "sources", "init": "init targets --file {scratch}/new.csv",
    "gear check": "gear --check --equipment {data}/starter.toml",
    "gear check bad": "gear --check --equipment {data}/pier.toml",
    "advise never up": "advise NGC7331 --site paddock --night 2026-06-10 --lowest-altitude 80",
    "advise no filter": f"advise 10.5,41.2 --rig wide --night {NIGHT} --set site.seeing=3arcsec",
    "first-light": f"first-light M33 --night {NIGHT}", "campaign": f"campaign --nights 12 --night {NIGHT}",
    "night never up": f"night NGC253 --lowest-altitude 60 --night {NIGHT}",
    "objects night": f"objects --night {NIGHT} --count 30",
    "objects month": "objects --month 2026-11 --rig wide --filter Ha --kind nebula",
    "match": "match", "match projects": "match --projects",
    "match target": "match NGC7331 --rig galaxies --all", "match beside": "match M33 --beside 1,3",
    "season": f"season NGC7331 M33 --night {NIGHT}",
    "season projects": f"season --night {NIGHT} --nights 60 --site paddock",
    "done shown": "done --project {scratch}/projects.toml",
    "done": f"done NGC7331 --filter L --hours 2h --night {NIGHT} --project {{scratch}}/projects.toml",
    "done undone": "done NGC7331 --undo --project {scratch}/projects.toml",
    "done new": f"done M45 --filter L --hours 1h --wanted 8h --id a --night {NIGHT} "
                "--project {scratch}/projects.toml",
    "pier balance": "pier balance", "pier init": "pier init --file {scratch}/new.toml",
    "pier heavy": "pier balance --add scope --mass 4kg --along -300mm --height 330mm",
    "pier swap": "pier balance --swap camera --mass 1.1kg",
    "pier power": "pier power", "pier power cold": f"pier power --temperature -12deg_C --night {NIGHT}",
    "pier column": "pier column", "pier check": "pier check", "pier sway": "pier sway {data}/drift_demo.csv",
    "frame": "frame {data}/frame_demo.fits", "frame rig": "frame {data}/frame_demo.fits --rig nebulae --filter L",
    "frame guided": "frame {data}/frame_demo.fits --guided --colour red",
    "drift": f"drift {{data}}/drift_demo.csv --night {NIGHT}",
    "drift axis": f"drift {{data}}/drift_demo.csv --night {NIGHT} --keep-axis --target M33 --site hill --rig travel",
    "drift saved": f"drift {{data}}/drift_demo.csv --night {NIGHT} --save --anyway "
                   "--equipment {scratch}/equipment.toml",
    "polar": f"polar {{data}}/polar_demo.csv --night {NIGHT}",
    "polar screws": f"polar {{data}}/polar_demo.csv --night {NIGHT} "
                    "--altitude-screw 1.5mm,180mm --azimuth-screw 1.5mm,120mm",
    "polar saved": f"polar {{data}}/polar_demo.csv --night {NIGHT} --save --equipment {{scratch}}/equipment.toml",
    "polar drifts": f"polar --run 0,5,10,2.4 --run -75,10,12,-1.1 --night {NIGHT}",
    "pointing": f"pointing {{data}}/pointing_demo.csv --night {NIGHT}",
    "pointing saved": f"pointing {{data}}/pointing_demo.csv --night {NIGHT} --save "
                      "--equipment {scratch}/equipment.toml",
    "pointing refraction": f"pointing {{data}}/pointing_demo.csv --night {NIGHT} --refraction --dec 41 --no-harmonics",
    "pointing terms": f"pointing {{data}}/pointing_demo.csv --night {NIGHT} --terms hour_angle_zero,declination_zero",
}


def all_cases() -> dict[str, list[str]]:
    """Return the words after ``planner`` by the case's name: every command, 60 advice cases, 20 nights."""
    cases = {name: words.split() for name, words in _COMMANDS.items()}
    for rig in RIGS:
        for site in ADVICE:
            for target, asked, night in ADVICE[site]:
                filter_name = "L" if rig in NO_LINE else asked
                cases[f"advise {rig}, {site}, {target} {filter_name}, {night}"] = [
                    "advise", target, "--rig", rig, "--site", site, "--filter", filter_name, "--night", night]
    for rig in NIGHT_RIGS:
        for site in ADVICE:
            for night in NIGHTS:
                extra = [] if night != NIGHT else ["--project", "{scratch}/projects.toml"]
                cases[f"night {rig}, {site}, {night}"] = [
                    "night", *extra, "--rig", rig, "--site", site, "--night", night]
    return {name: [*words, "--json"] for name, words in cases.items()}
