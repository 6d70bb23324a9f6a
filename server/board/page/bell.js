// Bell, shaking and a screen that stays awake. The first tap on the page unlocks them.

let sound = null, ringing = 0;

export const isMuted = () => !sound || sound.state !== 'running';

export function unlock() {
  const Sound = window.AudioContext || window.webkitAudioContext;
  if (!Sound) return;
  sound ??= new Sound();
  if (sound.state !== 'running') sound.resume().catch(() => {});
}

function tones(hertz) {
  if (isMuted()) return;
  hertz.forEach((f, i) => {
    const tone = sound.createOscillator(), loudness = sound.createGain();
    const from = sound.currentTime + i * 0.22;
    tone.type = 'square';
    tone.frequency.value = f;
    loudness.gain.setValueAtTime(0.25, from);
    loudness.gain.exponentialRampToValueAtTime(0.001, from + 0.2);
    tone.connect(loudness).connect(sound.destination);
    tone.start(from);
    tone.stop(from + 0.2);
  });
}

const rising = [660, 880, 1320], falling = [1320, 880], stop = [880, 440, 880, 440];
const every = 5000, times = 6;

// An alarm until it is hushed, half a minute at most; what is good falls twice.
export function ring(kind) {
  hush();
  const say = {good: falling, control: stop}[kind] || rising;
  tones(say);
  navigator.vibrate?.(kind === 'good' ? [200, 100, 200] : [400, 150, 400, 150, 800]);
  if (kind === 'good') return;
  let left = times - 1;
  ringing = setInterval(() => {
    if (left-- <= 0) return hush();
    tones(say);
    navigator.vibrate?.([400, 150, 400]);
  }, every);
}

// Once, for what stands on the screen anyway.
export function chime() {
  tones(rising);
  navigator.vibrate?.([300, 100, 300]);
}

export function hush() {
  clearInterval(ringing);
  navigator.vibrate?.(0);
}

export function tryBell() {
  unlock();
  setTimeout(() => tones(rising), 60);
  navigator.vibrate?.([400, 150, 400]);
}

// The screen stays on while somebody is on the air or in line.
let lock = null, wanted = false;
async function take() {
  if (!wanted || document.hidden || lock) return;
  lock = await navigator.wakeLock?.request('screen').catch(() => null) || null;
  lock?.addEventListener('release', () => { lock = null; });
}
export function stayAwake(isWanted) {
  wanted = isWanted;
  if (isWanted) take();
  else lock?.release();
}
document.addEventListener('visibilitychange', take);
