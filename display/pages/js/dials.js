// @ts-check
// The dial of what is swept, and beside it that of what runs with it: one for each gauge, alike.

import { createDial } from "./dial.js";
import { el, setAttr } from "./dom.js";

export function createDials() {
  const first = createDial();
  const second = createDial();
  const node = el("div", { class: "dials" }, first.node);
  return {
    node,
    /**
     * @param {import("./dial.js").DialShown} shown
     * @param {import("./dial.js").DialShown | null} beside
     */
    show(shown, beside) {
      first.show(shown);
      if (beside === null) second.node.remove();
      else {
        second.show(beside);
        if (!second.node.isConnected) node.append(second.node);
      }
      setAttr(node, "data-two", beside !== null);
    },
  };
}
