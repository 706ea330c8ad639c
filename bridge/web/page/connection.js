// The line to the server: opened again and again until it holds, each frame acknowledged by whoever has shown it.

const FIRST_WAIT_MS = 400;
const LONGEST_WAIT_MS = 4000;
// The teacher's view is shared at most so often, in milliseconds: a slider that is dragged changes it much oftener.
const SHARE_MS = 100;
const KEPT_AS = "reedwire-token";
// Why the server closed, where it said so.
const REASONS = {
  1001: "the performance is over",
  4001: "this address holds no token, or an old one: ask for the new address",
  4002: "too many are watching",
  4003: "the board and this page do not understand each other: load the page again",
  4005: "this page has asked for too much",
};

export class Connection {
  // `take` gets each message; `lost` is called with the reason when the line breaks, and with "" when it holds again.
  constructor(take, lost) {
    this.take = take;
    this.lost = lost;
    this.wait = FIRST_WAIT_MS;
    this.reason = "not connected";
    this.token = takeToken();
    this.open();
  }

  open() {
    const address = new URL("/watch", location.href);
    address.protocol = location.protocol === "https:" ? "wss:" : "ws:";
    if (this.token) address.searchParams.set("token", this.token);
    this.socket = new WebSocket(address);
    let opened = false;
    this.socket.onopen = () => {
      opened = true;
      this.wait = FIRST_WAIT_MS;
      this.lost("");
    };
    this.socket.onmessage = ({ data }) => this.take(JSON.parse(data));
    this.socket.onclose = ({ code }) => {
      // A server that does not answer says nothing new: what the last one said stays.
      if (opened) this.reason = REASONS[code] ?? "not connected";
      this.lost(this.reason);
      setTimeout(() => this.open(), this.wait);
      this.wait = Math.min(2 * this.wait, LONGEST_WAIT_MS);
    };
  }

  send(message) {
    if (this.socket.readyState === WebSocket.OPEN) this.socket.send(JSON.stringify(message));
  }

  seen(n) {
    this.send({ is: "seen", n });
  }

  ask(what, more) {
    this.send({ is: "do", what, ...more });
  }

  // Share what `view()` gives a moment later, once for all changes until then.
  share(view) {
    this.sharing ??= setTimeout(() => {
      this.sharing = null;
      this.ask("share", { view: view() });
    }, SHARE_MS);
  }
}

// The token out of the address, where nobody reads it off the projector or copies it into a mail by accident.
function takeToken() {
  const address = new URL(location.href);
  const token = address.searchParams.get("token");
  if (token === null) return sessionStorage.getItem(KEPT_AS);
  sessionStorage.setItem(KEPT_AS, token);
  address.searchParams.delete("token");
  history.replaceState(null, "", address);
  return token;
}
