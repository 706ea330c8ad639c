// The line to the server: opened again and again until it holds, each frame acknowledged by whoever has shown it.

const FIRST_WAIT_MS = 400;
const LONGEST_WAIT_MS = 4000;

export class Connection {
  // `take` gets each message, `lost` is called with true when the line breaks and with false when it holds again.
  constructor(take, lost) {
    this.take = take;
    this.lost = lost;
    this.wait = FIRST_WAIT_MS;
    this.open();
  }

  open() {
    const address = new URL("/watch", location.href);
    address.protocol = location.protocol === "https:" ? "wss:" : "ws:";
    address.search = location.search;
    this.socket = new WebSocket(address);
    this.socket.onopen = () => {
      this.wait = FIRST_WAIT_MS;
      this.lost(false);
    };
    this.socket.onmessage = ({ data }) => this.take(JSON.parse(data));
    this.socket.onclose = () => {
      this.lost(true);
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
}
