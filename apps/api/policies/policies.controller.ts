import { Body, Controller, Delete, Get, Param, Post, Query } from '@nestjs/common';
import { Id, NewPolicy, Policy, PolicyFilter, PolicyList, PolicyReport } from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';
import { NEW_POLICY_EXAMPLE } from './policies.examples.js';

@Controller('v1/policies')
export class PoliciesController {
  @Get()
  @Operation({
    id: 'listPolicies',
    summary: 'What is forbidden or required, by platform and fault',
    permission: 'platforms:read',
    query: PolicyFilter,
    reply: PolicyList,
  })
  async listPolicies(@Caller() call: Call, @Query({ schema: PolicyFilter }) filter: PolicyFilter) {
    return { data: await call.casebook.policies.listPolicies(call.actor, filter) };
  }

  @Post()
  @Operation({
    id: 'setPolicy',
    summary: 'Forbid or require a repair for a fault on a platform',
    permission: 'platforms:write',
    body: NewPolicy,
    example: NEW_POLICY_EXAMPLE,
    reply: Policy,
    status: 201,
    creates: true,
  })
  setPolicy(@Caller() call: Call, @Body({ schema: NewPolicy }) body: NewPolicy) {
    return call.create(
      (casebook) => casebook.policies.setPolicy(call.actor, body),
      (policy) => ({ location: `/v1/policies/${policy.id}/report` }),
    );
  }

  @Delete(':id')
  @Operation({
    id: 'endPolicy',
    summary: 'End a policy today; it stays known, so that what it did can be judged',
    permission: 'platforms:write',
    params: { id: Id },
    reply: Policy,
  })
  endPolicy(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return call.casebook.policies.endPolicy(call.actor, id);
  }

  @Get(':id/report')
  @Operation({
    id: 'reportPolicy',
    summary: 'Whether a policy is followed, and whether it worked',
    permission: 'outcomes:read',
    params: { id: Id },
    reply: PolicyReport,
  })
  reportPolicy(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return call.casebook.policies.reportPolicy(call.actor, id);
  }
}
