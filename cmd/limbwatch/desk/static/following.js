// Following: the marks joined to passages from day to day, by the server.
import { change } from "./api.js";
import { notice, refusal } from "./notices.js";

/** follow joins the marks to passages; one step that can be undone. */
export async function follow() {
  try {
    const { words } = await change("/follow", {});
    notice(words, { key: "done" });
  } catch (err) { refusal(err, "follow"); }
}
