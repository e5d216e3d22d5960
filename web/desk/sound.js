// SPDX-License-Identifier: MIT
// Optional sounds: a short high one for a reading that was stored, two low ones for a warning on the
// page.

let audio = null;

/** On or off. Browsers allow sound only after a key or a touch, which switching it on is. */
export function switchSound(on) {
  if (!on) audio = null;
  else if (!audio) audio = new AudioContext();
}

function tone(pitch, start, length) {
  audio.resume();
  const wave = audio.createOscillator();
  const volume = audio.createGain();
  wave.frequency.value = pitch;
  volume.gain.setValueAtTime(0.25, audio.currentTime + start);
  volume.gain.exponentialRampToValueAtTime(0.001, audio.currentTime + start + length);
  wave.connect(volume).connect(audio.destination);
  wave.start(audio.currentTime + start);
  wave.stop(audio.currentTime + start + length);
}

export function soundStored() {
  if (audio) tone(1320, 0, 0.09);
}

export function soundWarning() {
  if (!audio) return;
  tone(330, 0, 0.16);
  tone(330, 0.22, 0.16);
}
