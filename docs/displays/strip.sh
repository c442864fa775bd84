#!/bin/sh
# A display of its own: one bay as lines in a terminal, by a broker's command-line client and jq.
#     ./strip.sh SITE/BAY [options of mosquitto_sub: -h HOST -p PORT -u USER -P PASSWORD]
# It shows what every display must: the cautions of the step, what the gauge reads only while it is connected,
# and, when the bay has gone, no figure at all.
set -eu
bay=${1:?which bay? SITE/NAME}
shift
root=ringtrue/1/$bay
mosquitto_sub "$@" -F '{"topic":"%t","said":%p}' \
    -t "$root/status" -t "$root/gauge/+/state" -t "$root/result" -t "$root/live" |
    jq --unbuffered --raw-output -n '
def mm: if . == null then "–" else (. * 1000 | round / 1000 | tostring) + " mm" end;
def bar: (. * 20 | floor) as $n | if $n >= 20 then "####################" else
    "#" * $n + "." * (20 - $n) end;
def figure($gauges): if (.gauge == "typed") or ($gauges[.gauge // ""] == "connected") then .value_mm | mm
    else "no figure: \(.gauge) is \($gauges[.gauge // ""] // "unheard")" end;
def sweep($gauges):
    "\(.check)  \(figure($gauges))  so far \(.max_deviation_mm | mm) of \(.limit_mm | mm) "
    + (if .max_deviation_mm != null and .limit_mm then "[\(.max_deviation_mm / .limit_mm | bar)]" else "" end)
    + (if .max_deviation_mm != null and .limit_mm and .max_deviation_mm > .limit_mm then "  ABOVE THE LIMIT"
       else "" end)
    + (if .to_bar_deg then "  bar \(.to_bar_deg | ceil)° more" else "" end);
foreach (inputs | .level = (.topic | split("/")[4:])) as $one
    ({online: false, gauges: {}, live: {}, cautions: [], lines: []};
     .lines = []
     | if $one.level == ["status"] then
           .online = ($one.said.state == "online")
           | .lines = [if .online then "bay is there" else "BAY AWAY: no figures" end]
       elif $one.level[0] == "gauge" then
           .gauges[$one.level[1]] = $one.said.state
           | .lines = ["gauge \($one.level[1]) \($one.said.state)"]
       elif $one.level == ["result"] then
           .lines = ["inspection \($one.said.inspection): \($one.said.verdict | ascii_upcase)",
                     ($one.said.reasons[]? | "  \(.)")]
       elif .online then
           ($one.said.cautions // []) as $cautions
           | .lines = [($cautions - .cautions)[] | "! \(.)"]
               + [$one.said.warnings[]? | "warning: \(.)"]
               + (if $one.said.check then [. as $all | $one.said | sweep($all.gauges)]
                  elif .live.check then ["STOP: \(.live.check) has ended"] else [] end)
           | .cautions = $cautions | .live = $one.said
       else . end;
     .lines[])'
