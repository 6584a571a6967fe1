// Plays the riffs of this page from the sound kept in it. No network, no storage.
"use strict";
(() => {
  const bank = JSON.parse(document.getElementById("sound-bank").textContent);
  const riffs = JSON.parse(document.getElementById("riff-notes").textContent);
  const RELEASE = 0.04; // seconds a note takes to fall silent once let go
  let context = null;
  let tones = null;
  let turns = 0; // counts presses, so that only the last one sounds
  let now = null; // what sounds: { section, sources, timer }

  /** 16-bit samples in base64 to an audio buffer. */
  function decode(text) {
    const bytes = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
    const words = new Int16Array(bytes.buffer);
    const buffer = context.createBuffer(1, words.length, bank.rate);
    const out = buffer.getChannelData(0);
    for (let i = 0; i < words.length; i += 1) out[i] = words[i] / 32768;
    return buffer;
  }

  function wake() {
    if (!context) {
      context = new AudioContext();
      tones = bank.tones.map((tone) => ({ midi: tone.midi, buffer: decode(tone.data) }));
      tones.click = decode(bank.click);
    }
    return context.resume();
  }

  function strike(sources, buffer, rate, at, length, gain) {
    const source = context.createBufferSource();
    source.buffer = buffer;
    source.playbackRate.value = rate;
    const level = context.createGain();
    level.gain.setValueAtTime(gain, at);
    level.gain.setValueAtTime(gain, at + Math.max(0.01, length - RELEASE));
    level.gain.linearRampToValueAtTime(0, at + length + RELEASE);
    source.connect(level).connect(context.destination);
    source.start(at);
    source.stop(at + length + 2 * RELEASE);
    sources.push(source);
  }

  function nearestTone(midi) {
    return tones.reduce((best, tone) => (Math.abs(tone.midi - midi) < Math.abs(best.midi - midi) ? tone : best));
  }

  function quiet() {
    if (!now) return;
    clearInterval(now.timer);
    for (const source of now.sources) {
      try { source.stop(); } catch { /* it has ended already */ }
    }
    mark(now.section, null);
    now.section.removeAttribute("data-playing");
    const button = now.section.querySelector("button[data-play]");
    button.textContent = "Play";
    now = null;
  }

  /** Sets the written note at a position apart from the others while it sounds. */
  function mark(section, at) {
    for (const group of section.querySelectorAll(".sounding-now")) group.classList.remove("sounding-now");
    if (at === null || matchMedia("(prefers-reduced-motion: reduce)").matches) return;
    for (const group of section.querySelectorAll("svg [data-at]")) {
      if (Math.abs(Number(group.dataset.at) - at) < 1e-4) group.classList.add("sounding-now");
    }
  }

  async function play(section) {
    const again = now && now.section === section;
    quiet();
    if (again) return;
    const turn = (turns += 1);
    await wake();
    if (turn !== turns) return; // another button was pressed meanwhile
    const riff = riffs[Number(section.dataset.riff)];
    const slow = 100 / Number(document.getElementById("tempo").value);
    const sources = [];
    let at = context.currentTime + 0.1;
    for (const click of riff.count_in) {
      strike(sources, tones.click, click.accent ? 1.5 : 1, at + click.onset * slow, 0.05, click.accent ? 0.9 : 0.6);
    }
    at += riff.lead * slow;
    for (const note of riff.notes) {
      const tone = nearestTone(note.midi);
      strike(sources, tone.buffer, 2 ** ((note.midi - tone.midi) / 12), at + note.onset * slow, note.length * slow, note.gain);
    }
    section.setAttribute("data-playing", "");
    section.querySelector("button[data-play]").textContent = "Stop";
    const end = at + riff.length * slow + 0.3;
    let shown = null;
    const timer = setInterval(() => {
      if (context.currentTime > end) { quiet(); return; }
      const position = (context.currentTime - at) / slow;
      const current = riff.notes.findLast((note) => note.onset <= position);
      const written = current ? current.written : null;
      if (written !== shown) { shown = written; mark(section, written); }
    }, 30);
    now = { section, sources, timer };
  }

  for (const button of document.querySelectorAll("button[data-play]")) {
    button.hidden = false;
    button.addEventListener("click", () => play(button.closest("section")));
  }
  document.getElementById("tempo").closest(".controls").hidden = false;
  document.addEventListener("keydown", (event) => { if (event.key === "Escape") quiet(); });
})();
