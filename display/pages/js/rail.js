// @ts-check
// Whose the inspection is and where it stands: engine and damper, and each check with what it came to, the one at
// hand picked out.

import { el, fill, setAttr, setShown, setText } from "./dom.js";
import { checkName, outcomeWord, shape } from "./verdict.js";
import { t } from "./words.js";

/** Pages on which a person stands by what was found. */
const SIGNS = /^(sign|decide|remark) /;

export function createRail() {
  const serials = el("p", { class: "rail-serials" }, el("span"), el("span"));
  const list = el("ol");
  const node = el("section", { class: "rail" }, serials, list);
  /** @type {WeakMap<Element, ReturnType<typeof shape>>} */
  const marks = new WeakMap();

  function make() {
    const mark = shape();
    const item = el("li", {}, mark.node, el("span", { class: "rail-name" }), el("span", { class: "unseen" }));
    marks.set(item, mark);
    return item;
  }

  return {
    node,
    /** @param {any} page @param {any} result the bay's; of another inspection it is none of this page's */
    show(page, result) {
      // Who signs need not have joined it.
      const of = SIGNS.test(page.name) ? page.of : page.inspection;
      const isOurs = of !== null && result?.inspection === of;
      setShown(node, isOurs);
      setAttr(node, "aria-label", t("Checks of this inspection"));
      const { engine, damper } = isOurs ? result : {};
      setText(serials.children[0], engine?.serial ? t("engine {serial}", { serial: engine.serial }) : "");
      setText(serials.children[1], damper?.serial ? t("damper {serial}", { serial: damper.serial }) : "");
      fill(list, isOurs ? Object.entries(result.checks) : [], make, (item, [name, check]) => {
        const isMaking = name === page.grading; // what was found before is of another sweep
        marks.get(item)?.show(isMaking ? "missing" : check.outcome);
        setText(item.children[1], checkName(name));
        setText(item.children[2], `: ${isMaking ? t("being worked out") : outcomeWord(check.outcome)}`);
        setAttr(item, "aria-current", name === page.check ? "step" : null);
      });
    },
  };
}
