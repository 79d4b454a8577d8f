import { createClient, createConfig } from './generated/hey-api/client/index.js'
import { checkVehicle } from './generated/hey-api/sdk.gen.js'
import { address, vehicle } from './vehicle.js'

const client = createClient(createConfig({ baseUrl: address }))
const { data, error } = await checkVehicle({ client, body: vehicle })
const refused = await checkVehicle({ client, body: { ...vehicle, paths: [] } })
console.log(
  JSON.stringify({ error, value: data?.paths[0]?.indicatedPerTrue.value, code: refused.error?.code }),
)
