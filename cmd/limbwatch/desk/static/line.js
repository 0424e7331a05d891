// An open line for the pointer's questions: quicker than a request each. Without it
// (a server that was started anew, a proxy) the same is asked by request.
import { get, addressOf } from "./api.js";

let socket = null, tried = 0, number = 0;
const waiting = new Map();

function open() {
  if (socket || performance.now() - tried < 2000) return;
  tried = performance.now();
  socket = new WebSocket(`ws://${location.host}${addressOf("/pointer")}`);
  socket.onmessage = (event) => {
    const { n, place, error } = JSON.parse(event.data);
    const who = waiting.get(n);
    waiting.delete(n);
    if (place) who?.done(place); else who?.fail(new Error(error));
  };
  socket.onclose = () => {
    socket = null;
    for (const who of waiting.values()) who.fail(new Error("the line is cut"));
    waiting.clear();
  };
}

/**
 * placeOf gives the figures of a pixel of a frame; more is {sigma: the error of a click
 * there, picture pixels} and {disc: [x, y, r], north_deg, mirrored, sigma_north_deg} of
 * what is proposed and not kept.
 */
export function placeOf(frame, x, y, more = {}) {
  open();
  if (socket?.readyState !== WebSocket.OPEN) {
    const { disc, ...q } = more;
    if (disc) [q.disc_x, q.disc_y, q.disc_r] = disc;
    return get(`/frames/${frame}/place?${new URLSearchParams({ x, y, ...q })}`);
  }
  return new Promise((done, fail) => {
    number++;
    waiting.set(number, { done, fail });
    socket.send(JSON.stringify({ frame, x, y, n: number, ...more }));
  });
}
