import { testOperations } from '../../support/operation-suite.js'

testOperations('vehicle-checks')
