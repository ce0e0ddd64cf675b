// Plays a Morse ident as the server timed it: a tone of 1,020 Hz, with edges soft enough not to click.

const HERTZ = 1020;
const EDGE_S = 0.006;

// "start length; start length" in milliseconds -> [{ start, length }] in seconds
export const signalsOf = (text) =>
  text.split(";").map((pair) => pair.trim().split(" ").map((word) => Number(word) / 1000)).map(([start, length]) => ({ start, length }));

// Lay the signals out on an audio clock; returns when the last one ends.
export function schedule(context, signals, volume, from = context.currentTime + 0.05) {
  const tone = context.createOscillator();
  const key = context.createGain();
  tone.frequency.value = HERTZ;
  key.gain.value = 0;
  tone.connect(key).connect(context.destination);
  for (const { start, length } of signals) {
    key.gain.setValueAtTime(0, from + start);
    key.gain.linearRampToValueAtTime(volume, from + start + EDGE_S);
    key.gain.setValueAtTime(volume, from + start + length - EDGE_S);
    key.gain.linearRampToValueAtTime(0, from + start + length);
  }
  const last = signals.at(-1);
  tone.start(from);
  tone.stop(from + last.start + last.length + 0.05);
  return { tone, end: from + last.start + last.length };
}

export function begin(player) {
  const signals = signalsOf(player.dataset.signals);
  const button = player.querySelector("button");
  const volume = player.querySelector("input");
  let context = null;
  let playing = null;
  player.hidden = false;
  button.addEventListener("click", () => {
    if (playing) {
      playing.stop();
      return;
    }
    context ??= new AudioContext();
    context.resume();
    playing = schedule(context, signals, Number(volume.value) / 100).tone;
    button.textContent = "Stop";
    playing.addEventListener("ended", () => {
      playing = null;
      button.textContent = "Play the ident";
    });
  });
}
