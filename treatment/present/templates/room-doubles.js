// Sound that bounces twice: short rows of whole numbers -> paths like those of single bounces.
"use strict";
function doubleLines(data) {
  const d = data.doubles;
  if (!d) return [];
  const place = (row, at) => row.slice(at, at + 3).map((mm) => mm / 1000);
  return d.rows.map((row) => {
    const [after, source, seat, first, second, verdict] = row;
    const levels = row.slice(13).map((tenths) => tenths / 10);
    const level = Math.max(...levels.slice(4)); // the octaves from 1 to 8 kHz, as for single bounces
    const name = `${d.sources[source]} to ${d.seats[seat]} by ${d.names[first]}, then ${d.names[second]}`;
    return {
      twice: true,
      points: [d.source_at[source], place(row, 6), place(row, 9), d.seat_at[seat]],
      group: after ? "path-after" : "path-before",
      source: data.sources.indexOf(d.sources[source]),
      seat: data.seats.indexOf(d.seats[seat]),
      name: `twice ${after} ${name}`,
      level,
      levels,
      detail: [
        name,
        `${(row[12] / 100).toFixed(2)} ms behind the direct sound`,
        `${level.toFixed(1)} dB re direct (loudest octave, 1 to 8 kHz)`,
        `verdict: ${d.verdicts[verdict]}`,
      ],
    };
  });
}
