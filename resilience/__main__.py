"""The table of verbs: what a person can ask for, and where the answer is."""

from resilience.terminal.group import Verb, application

ABOUT = "Which layout of battery-powered radio sensors keeps reporting, how surely, and why."

DESCRIBE, DECIDE, KEEP_UP, TOOLS = "describe a site", "decide", "keep up", "tools"

VERBS = {
    "new": Verb(
        DESCRIBE,
        "resilience.terminal.describe.new:new",
        "Write a commented site folder from six answers.",
    ),
    "adopt": Verb(
        DESCRIBE,
        "resilience.terminal.describe.adopt:adopt",
        "A drawing becomes a site, or a level of one.",
    ),
    "check": Verb(
        DESCRIBE,
        "resilience.terminal.describe.check:check",
        "Is this site sound: every mistake at once.",
    ),
    "links": Verb(
        DESCRIBE,
        "resilience.terminal.describe.links:links",
        "Who hears whom, and what stands in the way.",
    ),
    "plan": Verb(
        DESCRIBE,
        "resilience.terminal.describe.plan:plan",
        "Levels and a section, drawn, with who hears whom.",
    ),
    "calibrate": Verb(
        DESCRIBE,
        "resilience.terminal.describe.calibrate:calibrate",
        "Measured links correct the prediction.",
    ),
    "learn": Verb(
        DESCRIBE,
        "resilience.terminal.describe.learn:learn",
        "Own history updates rates and durations.",
    ),
    "defaults": Verb(
        DESCRIBE,
        "resilience.terminal.describe.defaults:defaults",
        "Every assumption with its source.",
    ),
    "compare": Verb(
        DECIDE,
        "resilience.terminal.decide.compare:compare",
        "Rank the layouts of a site, and say why.",
    ),
    "judge": Verb(
        DECIDE,
        "resilience.terminal.decide.judge:judge",
        "Does each layout keep a promise, how surely.",
    ),
    "weakest": Verb(
        DECIDE,
        "resilience.terminal.decide.weakest:weakest",
        "What a layout hangs on, and what would help.",
    ),
    "reinforce": Verb(
        DECIDE,
        "resilience.terminal.decide.reinforce:reinforce",
        "Where one more device, or a move, buys most.",
    ),
    "report": Verb(
        DECIDE,
        "resilience.terminal.decide.report:report",
        "All that was found as one page, and the papers.",
    ),
    "trace": Verb(
        DECIDE,
        "resilience.terminal.decide.trace:trace",
        "One simulated lifetime, told event by event.",
    ),
    "portfolio": Verb(
        KEEP_UP,
        "resilience.terminal.keep_up.portfolio:portfolio",
        "Score many sites, and say which few to visit.",
    ),
    "schema": Verb(
        TOOLS,
        "resilience.terminal.tools.schema:schema",
        "JSON Schema of site.yaml or policy.yaml.",
    ),
    "invent": Verb(
        TOOLS,
        "resilience.terminal.tools.invent:invent",
        "Write a portfolio of invented sites, for trials.",
    ),
}


def main() -> None:
    """Answer what the command line asks."""
    application(VERBS, ABOUT).main(prog_name="resilience")


if __name__ == "__main__":
    main()
