import { readFileSync } from 'node:fs'
import { type Document, OpenAPIBackend } from 'openapi-backend'

// The mock server answers each operation from the document alone.
const definition: Document = JSON.parse(readFileSync(String(process.argv[2]), 'utf8'))
const api = new OpenAPIBackend({ definition, quick: true })
await api.init()
const { status, mock } = api.mockResponseForOperation('checkVehicle')
console.log(JSON.stringify({ status, mock }))
