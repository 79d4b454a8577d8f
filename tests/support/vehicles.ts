/** A vehicle for any test; of an invented make. */
export const aVehicle = (extra: Record<string, unknown> = {}) => ({
  name: 'Tarvenna Ostrel saloon, blue',
  make: 'Tarvenna',
  model: 'Ostrel',
  year: 1968,
  tires: { front: { size: '165R13' }, rear: { size: '175/70R13' } },
  paths: [
    {
      name: 'speedometer',
      axle: 'rear',
      stages: [
        { kind: 'final-drive', ring: 37, pinion: 9 },
        { kind: 'gear-pair', teeth: { driving: 6, driven: 20 } },
      ],
      head: { input: 'turns', constant: { perMile: 1000 }, unit: 'mph' },
    },
  ],
  rule: 'un-r39',
  ...extra,
})
