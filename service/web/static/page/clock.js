// The moment that is shown, moved by the time that passes or by a person.

export class Clock {
  // `shown` is called with the moment after each move; `limit` tells how far the answers have come.
  constructor(shown, limit) {
    this._shown = shown;
    this._limit = limit;
    this._frame = null;
    this._before = 0;
    this.momentS = 0;
    this.endS = 1;
    this.speed = 20;
  }

  get playing() {
    return this._frame !== null;
  }

  play() {
    if (this.playing) return;
    if (this.momentS >= this.endS) this.momentS = 0;
    this._before = performance.now();
    this._frame = requestAnimationFrame((now) => this._tick(now));
    this._shown(this.momentS);
  }

  pause() {
    if (!this.playing) return;
    cancelAnimationFrame(this._frame);
    this._frame = null;
    this._shown(this.momentS);
  }

  seek(momentS) {
    this.momentS = Math.min(Math.max(momentS, 0), this.endS);
    this._shown(this.momentS);
  }

  _tick(now) {
    const passedS = Math.max(0, now - this._before) / 1000;
    this._before = now;
    // It waits for answers rather than running ahead of them.
    const limit = Math.max(this._limit(), this.momentS);
    this.momentS = Math.min(this.momentS + passedS * this.speed, limit, this.endS);
    this._frame = this.momentS < this.endS ? requestAnimationFrame((next) => this._tick(next)) : null;
    this._shown(this.momentS);
  }
}
