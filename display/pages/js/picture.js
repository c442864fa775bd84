// @ts-check
// Beside the page: what runs at the bay as a picture; and dwells, wherever the person looks.

import { createDials } from "./dials.js";
import { el, setAttr, setShown } from "./dom.js";
import { createFigure } from "./figure.js";
import { dialOf, mapOf, secondDialOf } from "./large.js";
import { createMap } from "./map.js";
import { createTimers } from "./says.js";
import { t } from "./words.js";

export function createPicture() {
  const figure = createFigure();
  const dial = createDials();
  const map = createMap();
  const timers = createTimers();
  const drawn = el("section", { class: "drawn" }, dial.node, map.node);
  return {
    figure: figure.node, drawn, timers: timers.node,
    /** @param {any} page */
    isRunning: (page) => page !== null && page.name.startsWith("run "),
    /**
     * @param {any} page
     * @param {import("./bayView.js").BayView} view
     * @param {import("./stream.js").Bay} bay
     * @param {import("./units.js").LengthUnit} unit
     */
    show(page, view, bay, unit) {
      const runs = this.isRunning(page) && view.mode !== "idle" && view.mode !== "away";
      const turns = runs && (view.mode === "turn" || view.mode === "lifts");
      const fills = runs && view.mode === "places";
      setShown(figure.node, runs);
      if (runs) figure.show(view, unit);
      setAttr(figure.node, "data-empty", view.mode !== "lifts" && view.deviationMm === null);
      setShown(dial.node, turns);
      if (turns) dial.show(dialOf(view, bay, unit), secondDialOf(view, bay, unit));
      setShown(map.node, fills);
      if (fills) map.show(mapOf(view.live, unit));
      setShown(drawn, turns || fills);
      // The dwell that the page is about has the page's own figure.
      const own = page?.picture?.item;
      timers.show(view.timers.filter((timer) => !(timer.item === own && timer.check === page.picture.check)));
      setAttr(timers.node, "aria-label", t("Dwells that are timed"));
      setAttr(document.body, "data-runs", runs ? view.mode : null);
      return runs;
    },
  };
}
