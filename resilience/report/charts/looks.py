"""How charts look; ``$paper`` and the like are the colours of ``drawing.ink``."""

RULES = r"""
.catch{fill:none;pointer-events:all}
.rule{stroke:$faint;stroke-width:1;fill:none}
.tick-label,.axis-title{fill:$quiet}
.row-label,.row-value{fill:$ink}
.span{stroke:$sensor;stroke-width:2;fill:none}
.tip-arrow{fill:$sensor}
.dot{fill:$sensor;stroke:$floor}
.bar-body{fill:$sensor}
.curve{fill:none;stroke-width:2}
.series-0 .curve{stroke:$sensor}
.series-1 .curve{stroke:$gateway;stroke-dasharray:9 4}
.series-2 .curve{stroke:$moving;stroke-dasharray:3 3}
.series-3 .curve{stroke:$ink;stroke-dasharray:12 3 3 3}
.series-4 .curve{stroke:$quiet;stroke-dasharray:1.5 3}
.series-5 .curve{stroke:$wall;stroke-dasharray:6 2}
.knot{stroke:$floor;stroke-width:1}
.series-0 .knot{fill:$sensor}
.series-1 .knot{fill:$gateway}
.series-2 .knot{fill:$moving}
.series-3 .knot{fill:$ink}
.series-4 .knot{fill:$quiet}
.series-5 .knot{fill:$wall}
.series .open .knot{fill:$floor;stroke:$ink;stroke-width:1.3}
.mark:hover .dot,.mark:focus .dot,.mark:hover .bar-body,
.mark:focus .bar-body,.mark:hover .knot,.mark:focus .knot{stroke:$ink;stroke-width:2.5}
.mark:focus{outline:none}
.mark:focus .catch{stroke:$ink;stroke-width:1.5;stroke-dasharray:2 2}
"""
