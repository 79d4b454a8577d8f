import { Type } from '@sinclair/typebox'
import { named } from './named-shapes.js'
import { choice } from './plain-values.js'

export const Liveness = named(
  'Liveness',
  Type.Object(
    { alive: Type.Boolean({ description: 'Always true: a process that is not alive does not answer.' }) },
    { additionalProperties: false, description: 'The process answers.' },
  ),
)

export const Readiness = named(
  'Readiness',
  Type.Object(
    {
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
    },
    { additionalProperties: false, description: 'The service can do its work.' },
  ),
)
