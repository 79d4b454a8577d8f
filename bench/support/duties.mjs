// Routes that do everything that the service does for each request of an operation (queue, rate limit, key, parsing, validation, serialization)
// and send a precomputed answer: the cost without computation and store.
import { sendText } from '../../dist/src/routes/stored-responses.js'
import { VehicleParams } from '../../dist/src/schemas/saved-vehicles.js'
import { CreateHeaders, KEY_NEEDED, ReadHeaders } from '../../dist/src/schemas/stored.js'

const named = (id) => ({ $ref: `${id}#` })

/** Where the duties of an operation are to be had. */
export const dutiesOf = (path) => `/duties${path}`

/** Caches the first result of `make`. */
function once(make) {
  let made
  return (request) => made ?? make(request).then((value) => (made = value))
}

/** Adds them to the service, before it listens. */
export function addDuties(app) {
  const post = (path, body) => {
    const answer = once(async ({ body: payload }) => {
      const { statusCode, body: text } = await app.inject({ method: 'POST', url: path, payload })
      if (statusCode !== 200) throw new Error(`${path} answered ${statusCode}`)
      return JSON.parse(text)
    })
    app.post(dutiesOf(path), { schema: { hide: true, body: named(body) } }, answer)
  }
  post('/v1/tires/geometry', 'TireGeometryRequest')
  post('/v1/vehicle-checks', 'VehicleProfile')

  const text = once(async ({ headers: { authorization }, params: { id } }) => {
    const { statusCode, body } = await app.inject({ url: `/v1/vehicles/${id}`, headers: { authorization } })
    if (statusCode !== 200) throw new Error(`the vehicle answered ${statusCode}`)
    return body
  })
  const kept = { hide: true, security: KEY_NEEDED }
  app.get(
    dutiesOf('/v1/vehicles/:id'),
    { schema: { ...kept, params: VehicleParams, headers: ReadHeaders } },
    async (request, reply) => sendText(reply.header('etag', '"1"'), await text(request)),
  )
  app.post(
    dutiesOf('/v1/vehicles'),
    { schema: { ...kept, headers: CreateHeaders, body: named('VehicleProfile') } },
    async ({ body }, reply) => sendText(reply.code(201).header('etag', '"1"'), JSON.stringify(body)),
  )
}
