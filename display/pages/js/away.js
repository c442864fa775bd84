// @ts-check
// What is wrong between this page and the bay, in large words.

import { el, icon, setAttr, setShown, setText } from "./dom.js";
import { t } from "./words.js";

export function createAway() {
  const head = el("h2");
  const why = el("p");
  const node = el("section", { class: "away", role: "alert", hidden: true }, icon("unplug"), el("div", {}, head, why));
  return {
    node,
    /** @param {{isLive: boolean, brokerAway: string | null, alarm: string, hasPage: boolean}} now alarm: of the walk */
    show({ isLive, brokerAway, alarm, hasPage }) {
      /** @type {[string, string, boolean] | null} head, why, whether why is the bay's own words */
      let said = null;
      if (!isLive) {
        said = hasPage
          ? [t("SERVER AWAY"), t("Nothing is lost: what is typed stays here. Trying again; leave everything as it stands."), false]
          : [t("CONNECTING"), t("This page asks its server."), false];
      } else if (alarm !== "") {
        const at = alarm.indexOf(": ");
        said = at < 0 ? [alarm, "", false] : [alarm.slice(0, at), alarm.slice(at + 2), false];
      } else if (brokerAway !== null) said = [t("BROKER AWAY"), brokerAway, true];
      setShown(node, said !== null);
      setText(head, said?.[0] ?? "");
      setText(why, said?.[1] ?? "");
      setAttr(why, "lang", said?.[2] ? "en" : null);
    },
  };
}
