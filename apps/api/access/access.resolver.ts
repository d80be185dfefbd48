import { Args, Mutation, Query, Resolver } from '@nestjs/graphql';
import { IssuedKey, Key, KeyRotation, KeyUsage, Me, Member, MemberPatch, NewKey, NewMember, UsageQuestion } from '#libs/contracts/index.js';
import { After, ExpectedVersion, First, type GraphCall, GraphCaller, IdArg, Input, OptionalInput } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';
import { AuditPage, KeyPage, MemberPage } from './access.controller.js';

const MeType = objectTypeOf(Me);
const KeyType = objectTypeOf(Key);
const KeyPageType = objectTypeOf(KeyPage);
const KeyUsageType = objectTypeOf(KeyUsage);
const IssuedKeyType = objectTypeOf(IssuedKey);
const MemberType = objectTypeOf(Member);
const MemberPageType = objectTypeOf(MemberPage);
const AuditPageType = objectTypeOf(AuditPage);

@Resolver()
export class AccessResolver {
  @Query(() => MeType)
  me(@GraphCaller() call: GraphCall) {
    return call.casebook.access.me(call.actor);
  }

  @Query(() => KeyPageType)
  keys(@GraphCaller() call: GraphCall, @First() first?: number, @After() after?: string) {
    return call.casebook.access.listKeys(call.actor, { first, after });
  }

  @Query(() => KeyUsageType)
  keyUsage(@GraphCaller() call: GraphCall, @OptionalInput('question', UsageQuestion) question?: UsageQuestion) {
    return call.casebook.usage.keyUsage(call.actor, question ?? {});
  }

  @Mutation(() => IssuedKeyType)
  issueKey(@GraphCaller() call: GraphCall, @Input(NewKey) input: NewKey) {
    return call.casebook.access.issueKey(call.actor, input);
  }

  @Mutation(() => IssuedKeyType)
  rotateKey(@GraphCaller() call: GraphCall, @IdArg() id: string, @Input(KeyRotation) input: KeyRotation) {
    return call.casebook.access.rotateKey(call.actor, id, input);
  }

  @Mutation(() => KeyType)
  revokeKey(@GraphCaller() call: GraphCall, @IdArg() id: string) {
    return call.casebook.access.revokeKey(call.actor, id);
  }

  @Query(() => MemberPageType)
  members(@GraphCaller() call: GraphCall, @First() first?: number, @After() after?: string) {
    return call.casebook.access.listMembers(call.actor, { first, after });
  }

  @Mutation(() => MemberType)
  addMember(@GraphCaller() call: GraphCall, @Input(NewMember) input: NewMember) {
    return call.casebook.access.addMember(call.actor, input);
  }

  @Mutation(() => MemberType)
  changeMember(
    @GraphCaller() call: GraphCall,
    @IdArg() id: string,
    @Input(MemberPatch) input: MemberPatch,
    @ExpectedVersion() version?: number,
  ) {
    return call.casebook.access.changeMember(call.actor, id, input, version);
  }

  @Query(() => AuditPageType)
  audit(
    @GraphCaller() call: GraphCall,
    @First() first?: number,
    @After() after?: string,
    @Args('subjectId', { type: () => String, nullable: true }) subjectId?: string,
  ) {
    return call.casebook.audit.listAudit(call.actor, { first, after, subjectId });
  }
}
