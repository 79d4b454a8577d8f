import { Type } from '@sinclair/typebox'
import { shape } from './named-shapes.js'
import { choice } from './plain-values.js'

export const Liveness = shape('Liveness', 'The process answers.', {
  alive: Type.Boolean({ description: 'Always true: a process that is not alive does not answer.' }),
  version: Type.String({ description: 'Version of the program.' }),
  model: Type.String({
    description: 'Version of the computations, which answers also give as model.',
  }),
})

export const Readiness = shape('Readiness', 'The service can do its work.', {
  ready: Type.Boolean({ description: 'Always true: a service that is not ready answers 503.' }),
  checks: Type.Array(
    Type.Object(
      {
        name: choice(['open', 'read', 'write', 'disk', 'wal', 'schema'], {
          description: 'What was checked.',
        }),
        ok: Type.Boolean({ description: 'Whether the check passed.' }),
        detail: Type.String({ description: 'What was found.' }),
      },
      { additionalProperties: false, description: 'One check.' },
    ),
    { maxItems: 10, description: 'Every check.' },
  ),
})
