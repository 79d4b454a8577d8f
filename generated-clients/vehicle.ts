/** An invented car, as in examples/typed-client; each client takes it in its own type. */
export const vehicle = {
  name: 'Quillock Vanter',
  tires: { front: { size: '185/60R14' }, rear: { size: '185/60R14' } },
  paths: [
    {
      name: 'speedometer',
      axle: 'rear' as const,
      stages: [
        { kind: 'final-drive' as const, ratio: 3.7 },
        { kind: 'gear-pair' as const, teeth: { driving: 7, driven: 20 } },
      ],
      head: { input: 'turns' as const, constant: { perMile: 1000 }, unit: 'mph' as const },
    },
  ],
  rule: 'un-r39' as const,
}

/** The address of the service: the argument of each script. */
export const address = String(process.argv[2])
