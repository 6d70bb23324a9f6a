// Line drawings of gear, to be told by its look: what flies, its aerial, what its pilot has. Each is a
// path in a square of 48.

const paths = {
  none: '',
  whip: 'M17 17h14v14H17zM8 8m-6 0a6 6 0 1 0 12 0a6 6 0 1 0-12 0M40 8m-6 0a6 6 0 1 0 12 0a6 6 0 1 0-12 0M8 40m-6 0a6 6 0 1 0 12 0a6 6 0 1 0-12 0M40 40m-6 0a6 6 0 1 0 12 0a6 6 0 1 0-12 0M12 12l6 6M36 12l-6 6M12 36l6-6M36 36l-6-6',
  quad: 'M19 14h10v20H19zM19 16L7 8M29 16l12-8M19 32L7 40M29 32l12 8M2 8h10M36 8h10M2 40h10M36 40h10M22 14v-4h4v4',
  wing: 'M24 10L4 34l8 2 12-8 12 8 8-2zM24 28v6M20 36h8',
  plane: 'M24 4v38M22 4h4M4 18h40v6H4zM16 40h16v4H16z',
  helicopter: 'M2 10h44M24 10v6M14 16h16a8 8 0 0 1 8 8v4H18a8 8 0 0 1-8-8zM38 26h8M44 20v10M12 38h24M16 28v10M30 28v10',
  car: 'M4 30h40v-8h-8l-6-8H16l-4 8H4zM12 34m-5 0a5 5 0 1 0 10 0a5 5 0 1 0-10 0M36 34m-5 0a5 5 0 1 0 10 0a5 5 0 1 0-10 0',
  wire: 'M24 44V8M20 44h8',
  mushroom: 'M24 44V22M10 22a14 10 0 0 1 28 0zM20 44h8',
  stick: 'M22 4h4v34h-4zM24 38v8M16 46h16',
  goggles: 'M6 16h36v16H30l-4-6h-4l-4 6H6zM6 20H2v8h4M42 20h4v8h-4M12 16v-6M8 10a4 3 0 0 1 8 0z',
  'goggles-flat': 'M6 18h36v16H30l-4-6h-4l-4 6H6zM10 18v-4M6 10a4 3 0 0 1 8 0zM6 10h8M30 4h12v12H30zM36 16v2',
  'goggles-wire': 'M6 18h36v16H30l-4-6h-4l-4 6H6zM12 18V2M36 18V2',
  'goggles-two-way': 'M6 18h36v16H30l-4-6h-4l-4 6H6zM24 14v-4M18 10a8 8 0 0 1 12 0M14 6a14 14 0 0 1 20 0',
  tripod: 'M24 18v10M24 28L12 46M24 28l12 18M24 28v18M10 4h20v14H10zM38 4v14',
  'tripod-relay': 'M20 18v10M20 28L8 46M20 28l12 18M20 28v18M6 4h14v14H6zM26 4v14M20 14h8M36 30h8v8h-8zM40 30V20M36 20a4 3 0 0 1 8 0z',
  handset: 'M8 20h32v20H8zM32 20V4M16 30m-4 0a4 4 0 1 0 8 0a4 4 0 1 0-8 0M32 30m-4 0a4 4 0 1 0 8 0a4 4 0 1 0-8 0',
};

// The drawings of these names beside each other; decoration, its words stand beside it.
export function drawing(names) {
  const shown = (names || []).filter((name) => paths[name]);
  const ns = 'http://www.w3.org/2000/svg';
  const svg = document.createElementNS(ns, 'svg');
  svg.setAttribute('viewBox', `0 0 ${Math.max(1, shown.length) * 54} 48`);
  svg.setAttribute('class', 'drawing');
  svg.setAttribute('aria-hidden', 'true');
  shown.forEach((name, i) => {
    const path = document.createElementNS(ns, 'path');
    path.setAttribute('d', paths[name]);
    path.setAttribute('transform', `translate(${54 * i + 2} 0)`);
    svg.append(path);
  });
  return svg;
}
